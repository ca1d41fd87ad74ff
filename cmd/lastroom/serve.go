package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lastroom/ingest/demo"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service"
	"lastroom/reports/page"
)

var serveCommand = command{
	name:    "serve",
	summary: "notebooks, orders and the form desk as pages in a browser",
	about: `Serves the workshop's pages on this machine (127.0.0.1). Without a book the first
page explains the first step. No page asks for anything outside.

To let other machines in, listen on an address they reach and give tokens: a file
with one line each, NAME ROLE SECRET, the role reader or editor, the secret at least
20 characters. Use a certificate there, or the secrets cross the network readable.`,
	examples: []string{"lastroom serve --book demo/shop.duckdb --addr 127.0.0.1:0"},
	flags: func(fs *flag.FlagSet) action {
		book := bookFlag(fs)
		addr := fs.String("addr", "127.0.0.1:8473", "`HOST:PORT`: where to listen, port 0 for any that is free (default 127.0.0.1:8473)")
		names := fs.String("names", "", "`NAMES`: what else the service is reached under, with commas between")
		tokens := fs.String("tokens", "", "`FILE`: tokens; needed for an address that other machines reach")
		cert := fs.String("cert", "", "`FILE`: certificate (PEM)")
		key := fs.String("key", "", "`FILE`: key (PEM) of the certificate")
		rulesFile := fs.String("rules", "", "`FILE`: your own rules (default: as the rules command)")
		costs := costFlags(fs)
		return func(ctx context.Context, a *app, _ []string) error {
			if (*cert == "") != (*key == "") {
				return usageError("serve", "a certificate needs its key, and a key its certificate")
			}
			s, err := newShop(*book, *rulesFile, *costs)
			if err != nil {
				return err
			}
			desk, err := newFormDesk(s)
			if err != nil {
				return err
			}
			defer desk.close()
			cfg := service.Config{Workshop: &workshop{s, desk}, Desk: desk, Runner: s.runner(), Dir: orderbook.FilesOf(*book).Dir, Addr: *addr,
				TLS: *cert != "", Version: version(), Clock: time.Now, Log: slog.New(slog.NewTextHandler(a.stderr, nil))}
			if *names != "" {
				cfg.Names = strings.Split(*names, ",")
			}
			if cfg.Tokens, err = readTokens(*tokens); err != nil {
				return err
			}
			return a.serve(ctx, cfg, *cert, *key)
		}
	},
}

func (a *app) serve(ctx context.Context, cfg service.Config, cert, key string) error {
	l, err := net.Listen("tcp", cfg.Addr)
	if err != nil {
		return fmt.Errorf("can't listen on %s: %w; another program may be using it, --addr takes another", cfg.Addr, err)
	}
	defer l.Close()
	if host, port, err := net.SplitHostPort(cfg.Addr); err == nil && port == "0" { // any free port
		_, got, _ := net.SplitHostPort(l.Addr().String())
		cfg.Addr = net.JoinHostPort(host, got)
	}
	s, err := service.New(cfg)
	if err != nil {
		return &failure{status: statusUsage, message: err.Error(), cause: err}
	}
	defer s.Close()
	scheme := "http"
	if cert != "" {
		scheme = "https"
	}
	fmt.Fprintf(a.stdout, "Open %s://%s/ in a browser. Ctrl-C ends the service.\n", scheme, cfg.Addr)
	return s.Serve(ctx, l, cert, key)
}

// readTokens reads a file of tokens, one a line: NAME ROLE SECRET.
func readTokens(file string) ([]service.Token, error) {
	if file == "" {
		return nil, nil
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return nil, badInput(err)
	}
	roles := map[string]service.Role{"reader": service.Reader, "editor": service.Editor}
	var out []service.Token
	for no, line := range strings.Split(string(b), "\n") {
		f := strings.Fields(line)
		if len(f) == 0 || strings.HasPrefix(f[0], "#") {
			continue
		}
		if len(f) != 3 || roles[f[1]] == service.Nobody {
			return nil, badInput(fmt.Errorf("%s:%d: write NAME ROLE SECRET, the role reader or editor", file, no+1))
		}
		out = append(out, service.Token{Name: f[0], Role: roles[f[1]], Secret: f[2]})
	}
	if len(out) == 0 {
		return nil, badInput(fmt.Errorf("%s holds no token", file))
	}
	return out, nil
}

// A workshop is a shop with what the service's pages ask besides notebooks.
type workshop struct {
	*shop
	desk *formDesk
}

// errNoBook is the error of a question to a book that is not there yet.
var errNoBook = errors.New("there is no order book yet; load order sheets first")

// reading calls f with the desk's reader of the newest snapshot.
func (w *workshop) reading(ctx context.Context, f func(*orderbook.Reader) error) error {
	return w.desk.with(ctx, func(c *checker) error {
		if c.book == nil {
			return errNoBook
		}
		return f(c.book)
	})
}

func (w *workshop) Rules() []string {
	var ids []string
	for _, r := range w.rules {
		ids = append(ids, r.ID)
	}
	return ids
}

// Views are the documented views of the book.
func (w *workshop) Views() (out []service.View) {
	for _, v := range orderbook.Views() {
		out = append(out, service.View{Name: v.Name, About: v.About})
	}
	return out
}

// Exercise picks an order for practice.
func (w *workshop) Exercise(ctx context.Context) (string, *page.Document, error) {
	var id string
	var d *page.Document
	err := w.reading(ctx, func(r *orderbook.Reader) (err error) {
		id, d, err = exercise(ctx, r)
		return err
	})
	return id, d, err
}

// Load loads the sheets of a folder, as the command does. A mapping file among
// them is used as --map.
func (w *workshop) Load(ctx context.Context, dir string) (*service.LoadResult, error) {
	rejects := filepath.Join(filepath.Dir(dir), filepath.Base(dir)+"-rejects.csv")
	defer os.Remove(rejects)
	o := load.Options{Paths: []string{dir}, Rejects: rejects, Program: program(), Now: time.Now().UTC()}
	for _, pattern := range []string{"*.yaml", "*.yml"} {
		maps, err := filepath.Glob(filepath.Join(dir, pattern))
		if err != nil {
			return nil, err
		}
		if len(maps) > 0 {
			o.Map = maps[0]
		}
	}
	report, err := load.Sheets(ctx, w.book, o)
	if err != nil && (report == nil || len(report.KeptOut) == 0) {
		return nil, badInput(err)
	}
	if report.Load > 0 {
		warm(ctx, w.book)
	}
	res := &service.LoadResult{Report: loadPage(report, ""), KeptOut: len(report.KeptOut)}
	if err != nil {
		res.Report.Lead = badInput(err).Error()
	}
	if res.Rejects, err = os.ReadFile(rejects); errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return res, err
}

// Demo makes the invented workshop's book.
func (w *workshop) Demo(ctx context.Context) error {
	dir, err := os.MkdirTemp("", "lastroom-invented-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if _, err := demo.Write(dir, demo.Options{Seed: 1}); err != nil {
		return err
	}
	_, err = load.Sheets(ctx, w.book, load.Options{Paths: []string{dir}, Program: program(), Now: time.Now().UTC()})
	return err
}

// Orders lists orders, one a row.
func (w *workshop) Orders(ctx context.Context, ids []string) (t page.Table, err error) {
	err = w.reading(ctx, func(r *orderbook.Reader) (err error) {
		t, err = orderTable(ctx, r, ids)
		return err
	})
	return t, err
}

// Order shows one order.
func (w *workshop) Order(ctx context.Context, id string) (d *page.Document, err error) {
	err = w.desk.with(ctx, func(c *checker) (err error) {
		if c.book == nil {
			return errNoBook
		}
		d, err = orderPage(ctx, c, id)
		return err
	})
	return d, err
}

// OrderOfForm is the order a form belongs to.
func (w *workshop) OrderOfForm(ctx context.Context, id string) (order string, err error) {
	err = w.reading(ctx, func(r *orderbook.Reader) error {
		f, ok, err := r.Form(ctx, id)
		if err == nil && !ok {
			err = service.ErrUnknown
		}
		order = f.Order
		return err
	})
	return order, err
}
