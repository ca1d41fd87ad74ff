package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/keeping"
	"lastroom/cmd/lastroom/workshop/serving"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/sheets"
	"lastroom/notebooks/service"
	"lastroom/notebooks/service/access"
	"lastroom/reports/translation"
)

func (a *app) serveCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "serve",
		Short: "notebooks, orders and the form desk as pages in a browser",
		Long: `Serves the workshop's pages on this machine (127.0.0.1). Without a book the first
page explains the first step. No page asks for anything outside.

To let other machines in, listen on an address they reach and give tokens: a file
with one line each, NAME ROLE SECRET, the role reader or editor, the secret at
least 20 characters; --new-token makes one. Where they type another name than that
of --addr, give it with --names. Use a certificate there, or the secrets cross the
network readable.`,
		Example: "lastroom serve --book demo/shop.duckdb --addr 127.0.0.1:0",
		Args:    noArguments,
	}
	book := bookFlag(c)
	addr := c.Flags().String("addr", usualAddr, "where to listen, `HOST:PORT`, port 0 for any that is free; other names it is reached under go into --names")
	names := c.Flags().String("names", "", "what else the service is reached under, `NAMES` with commas between")
	tokens := fileFlag(c, "tokens", "", "a `FILE` of tokens; needed for an address that other machines reach")
	newToken := c.Flags().String("new-token", "", "print a line for the file of tokens with a fresh secret, for `NAME=ROLE` (reader or editor), and stop")
	cert := fileFlag(c, "cert", "", "a `FILE` with the certificate (PEM)", "pem", "crt")
	key := fileFlag(c, "key", "", "a `FILE` with the key (PEM) of the certificate", "pem", "key")
	rulesFile := rulesFlag(c)
	costs := costFlags(c.Flags())
	language := choiceFlag(c, "language", "the `LANGUAGE` of the pages where a visitor chose none: "+strings.Join(translation.Tags(), " or ")+" (default that of the browser)", append([]string{""}, translation.Tags()...))
	c.RunE = func(c *cobra.Command, _ []string) error {
		if *newToken != "" {
			name, role, _ := strings.Cut(*newToken, "=")
			if access.RoleNamed(role) == access.Nobody || len(strings.Fields(name)) != 1 {
				return usageError(c, "--new-token takes a name of one word and its role, as Ann=reader or Ben=editor")
			}
			t := access.NewToken(name, access.RoleNamed(role))
			_, err := fmt.Fprintln(a.stdout, t.Name, t.Role, t.Secret)
			return err
		}
		if (*cert == "") != (*key == "") {
			return usageError(c, "a certificate needs its key, and a key its certificate")
		}
		tokenList, err := readTokens(*tokens)
		if err != nil {
			return err
		}
		l, err := net.Listen("tcp", *addr)
		if err != nil {
			return fmt.Errorf("can't listen on %s: %w; another program may be using it, --addr takes another", *addr, err)
		}
		defer l.Close()
		cfg := service.Config{Addr: *addr, Tokens: tokenList, Language: *language}
		if *names != "" {
			cfg.Names = strings.Split(*names, ",")
		}
		return a.serve(c.Context(), workshop.Setup{Book: *book, Rules: *rulesFile, Costs: *costs}, l, cfg, *cert, *key, func(url string) error {
			_, err := fmt.Fprintf(a.stdout, "Open %s in a browser. Ctrl-C ends the service.\n", url)
			return err
		})
	}
	return c
}

// usualAddr is where the service listens where nothing else is said.
const usualAddr = "127.0.0.1:8473"

// serve answers on a listener with the pages of a book until ctx is done. began is
// called with their address once they can be asked for.
func (a *app) serve(ctx context.Context, setup workshop.Setup, l net.Listener, cfg service.Config, cert, key string, began func(url string) error) error {
	w, err := workshop.Open(setup)
	if err != nil {
		return err
	}
	pages := &serving.Pages{Workshop: w}
	defer pages.Close()
	if host, port, err := net.SplitHostPort(cfg.Addr); err == nil && port == "0" { // any free port
		_, got, _ := net.SplitHostPort(l.Addr().String())
		cfg.Addr = net.JoinHostPort(host, got)
	}
	desk := keeping.New(pages, setup.Book, time.Now)
	cfg.Workshop, cfg.Desk, cfg.Runner, cfg.Dir = pages, desk, w.Runner(), bookfile.FilesOf(setup.Book).Dir
	cfg.SheetKinds = sheets.Kinds
	cfg.TLS, cfg.Version, cfg.Clock, cfg.Log = cert != "", workshop.Version(), time.Now, slog.New(slog.NewTextHandler(a.stderr, nil))
	untouched = nil
	s, err := service.New(cfg)
	if err != nil {
		return &workshop.UsageError{Message: err.Error(), Help: "lastroom serve --help"}
	}
	defer s.Close()
	scheme := "http"
	if cfg.TLS {
		scheme = "https"
	}
	go func() { _ = pages.Ready(ctx) }() // or the first who asks is told what is wrong
	running, stop := context.WithCancel(ctx)
	loads := make(chan struct{})
	go func() {
		defer close(loads)
		desk.Run(running, func(err error) {
			cfg.Log.Warn("what was kept at the desk is not in the book yet; it is tried again", "error", err)
		})
	}()
	defer func() { stop(); <-loads }()
	if err := began(scheme + "://" + cfg.Addr + "/"); err != nil {
		return err
	}
	return s.Serve(ctx, l, cert, key)
}

// readTokens reads a file of tokens.
func readTokens(file string) ([]access.Token, error) {
	if file == "" {
		return nil, nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, workshop.BadInput(err)
	}
	tokens, err := access.ReadTokens(string(text))
	if err != nil {
		return nil, workshop.BadInput(fmt.Errorf("%s: %w", file, err))
	}
	return tokens, nil
}
