package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"

	"github.com/adrg/xdg"
	desktop "github.com/cli/browser"
	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/notebooks/service"
)

func (a *app) openCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "open",
		Short: "the pages of the book in your documents folder, in your browser",
		Long: `Serves the book shop.duckdb in the folder lastroom of your documents folder on this
machine, and opens its first page in the browser. Without a book that page explains
the first step, or makes an invented workshop to look around in. Started again, it
opens the pages of the service that runs already. A double click on the program does
the same. "End the program" on the pages ends it.`,
		Example: "lastroom open --book demo/shop.duckdb",
		Args:    noArguments,
	}
	book := bookFlag(c)
	*book = documentsBook()
	c.Flags().Lookup("book").DefValue = "lastroom/shop.duckdb in your documents folder"
	c.RunE = func(c *cobra.Command, _ []string) error { return a.open(c.Context(), *book) }
	return c
}

// documentsBook is where the book of someone is who never says where.
func documentsBook() string {
	return filepath.Join(xdg.UserDirs.Documents, "lastroom", "shop.duckdb")
}

// open serves a book and shows its pages; where another process serves it, those of
// that one. The lock of a file says whether one does, and the file where: what a crash
// leaves behind is not believed.
func (a *app) open(ctx context.Context, book string) error {
	dir := bookfile.FilesOf(book).Dir
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	served, err := os.OpenFile(filepath.Join(dir, "served"), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	defer served.Close()
	held, err := durable.Lock(served)
	if err != nil {
		return fmt.Errorf("can't see whether %s is served already: %w", book, err)
	}
	if held {
		url, err := io.ReadAll(served)
		if err != nil {
			return err
		}
		return a.browse(strings.TrimSpace(string(url)))
	}
	l, err := net.Listen("tcp", usualAddr)
	if err != nil { // another book's pages may be there
		if l, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
			return fmt.Errorf("can't listen on this machine: %w", err)
		}
	}
	defer l.Close()
	ctx, end := context.WithCancel(ctx)
	defer end()
	return a.serve(ctx, workshop.Setup{Book: book}, l, service.Config{Addr: l.Addr().String(), End: end}, "", "", func(url string) error {
		if err := served.Truncate(0); err != nil {
			return err
		}
		if _, err := served.WriteAt([]byte(url+"\n"), 0); err != nil {
			return err
		}
		return a.browse(url)
	})
}

// browse shows a page in the person's browser, or says where it is: without one the
// service is of use all the same.
func (a *app) browse(url string) error {
	desktop.Stdout, desktop.Stderr = io.Discard, io.Discard
	says := fmt.Sprintf("The pages are in your browser, at %s\n", url)
	if err := desktop.OpenURL(url); err != nil {
		says = fmt.Sprintf("Open %s in a browser.\n", url)
	}
	_, err := io.WriteString(a.stdout, says)
	return err
}
