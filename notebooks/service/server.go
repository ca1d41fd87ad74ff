package service

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"sync"
	"time"

	"lastroom/notebooks"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/decisions"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/formdesk"
	"lastroom/notebooks/service/jobs"
	"lastroom/notebooks/service/uploads"
)

// A Config says what a Server serves and to whom.
type Config struct {
	Workshop Workshop
	Desk     formdesk.Desk // nil: there is no form desk
	Runner   *execution.Runner
	Dir      string         // the folder beside the book
	Addr     string         // host:port that is listened on
	Names    []string       // further host names it is reached under
	Tokens   []access.Token // needed off the loopback address
	TLS      bool
	Version  string
	Language string // of the pages, where a visitor chose none; "": that of the browser
	Clock    notebooks.Clock
	Log      *slog.Logger
	// SheetKinds are the endings of files that an upload of order sheets takes, as .csv;
	// mapping files besides.
	SheetKinds []string
	End        func() // ends the service, at an editor's word; nil: only who started it can
}

// A Server serves one workshop.
type Server struct {
	cfg       Config
	hosts     []string
	root      *os.Root // Config.Dir; nothing outside it is read or written
	handles   access.Handles
	sessions  access.Sessions
	auditing  sync.Mutex
	decisions *decisions.Ledger
	shelf     notebooks.Library
	store     archive.Store
	jobs      jobs.Queue
	uploads   uploads.Store
	looked    looked
	learnt    learnt
	pages     pageCache // of stored runs
	orders    pageCache
	lists     pageCache       // of the orders behind a count
	patterns  map[string]bool // of the table of pages
	news      tellings        // what changed up to the newest review, and since
	handler   http.Handler
}

// New makes a Server. Close it.
func New(cfg Config) (*Server, error) {
	hosts, err := hostList(cfg.Addr, cfg.Names)
	if err != nil {
		return nil, err
	}
	if host, _, _ := net.SplitHostPort(cfg.Addr); !isLoopback(host) && len(cfg.Tokens) == 0 {
		return nil, errors.New("an address that other machines reach needs a token; nobody could enter without one")
	}
	if err := access.CheckTokens(cfg.Tokens); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(cfg.Dir, 0o700); err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(cfg.Dir)
	if err != nil {
		return nil, err
	}
	s := &Server{cfg: cfg, hosts: hosts, root: root, pages: pageCache{most: mostRunPages}, orders: pageCache{most: mostOrderPages}, lists: pageCache{most: mostOrderPages}}
	if err := s.open(); err != nil {
		root.Close()
		return nil, err
	}
	return s, nil
}

func (s *Server) open() error {
	key, err := access.OpenKey(s.root)
	if err != nil {
		return err
	}
	if s.handles, err = access.NewHandles(key); err != nil {
		return err
	}
	s.jobs.Log, s.jobs.Words = s.cfg.Log, func(err error) string { _, words := statusOf(err); return words }
	s.decisions = &decisions.Ledger{Root: s.root}
	s.shelf = notebooks.Library{Dir: s.cfg.Dir + "/notebooks"}
	s.store = archive.Store{Dir: s.cfg.Dir + "/runs", Clock: s.cfg.Clock}
	s.uploads = uploads.Store{Root: s.root, Now: s.cfg.Clock}
	if err := s.uploads.Sweep(); err != nil {
		return err
	}
	s.handler = s.said(s.guard(s.routes()))
	return nil
}

// Close stops the runs under way.
func (s *Server) Close() error {
	s.jobs.StopAll()
	return s.root.Close()
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Serve answers on the listener until ctx is done. cert and key are files, or
// "" for none.
func (s *Server) Serve(ctx context.Context, l net.Listener, cert, key string) error {
	srv := &http.Server{
		Handler:           s,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       2 * time.Minute,
		WriteTimeout:      3 * time.Minute,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		TLSConfig:         &tls.Config{MinVersion: tls.VersionTLS12},
		ErrorLog:          slog.NewLogLogger(s.cfg.Log.Handler(), slog.LevelWarn),
	}
	done := make(chan error, 1)
	go func() {
		if cert != "" {
			done <- srv.ServeTLS(l, cert, key)
		} else {
			done <- srv.Serve(l)
		}
	}()
	select {
	case err := <-done:
		return fmt.Errorf("the service stopped: %w", err)
	case <-ctx.Done():
		s.jobs.StopAll()
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
		defer cancel()
		err := srv.Shutdown(stop)
		if errors.Is(err, context.DeadlineExceeded) { // who is still being answered is cut off
			err = srv.Close()
		}
		return err
	}
}
