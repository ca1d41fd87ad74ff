package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// lockedBuffer is a buffer that a running command may write to.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// ownDemo is a copy of the invented workshop's folder that a test may change.
func ownDemo(t *testing.T) string {
	t.Helper()
	dir, err := demoDir()
	require.NoError(t, err)
	own := t.TempDir()
	require.NoError(t, copyAsItWas(filepath.Join(dir, "demo"), own))
	return own
}

// shownShop is the service on a copy of the invented workshop, for all tests that only look
// at its pages: opening a book's pages takes longer than most of them.
func shownShop(t *testing.T) string { return shown.on(t) }

// usedShop is another, for tests that add to it what no other of them looks at. Every day
// it is the same: there what is added stands on no page that others count.
func usedShop(t *testing.T) string {
	if breadth.Wide() {
		return used.on(t)
	}
	return shownShop(t)
}

var shown, used sharedShop

// sharedShop is a service that runs until all tests have ended, and then its folder goes.
type sharedShop struct {
	sync.Once
	folder, base string
	stop         func()
}

func (s *sharedShop) on(t *testing.T) string {
	t.Helper()
	s.Do(func() {
		dir, err := demoDir()
		require.NoError(t, err)
		s.folder, err = os.MkdirTemp("", "lastroom-shown-")
		require.NoError(t, err)
		s.stop = func() { os.RemoveAll(s.folder) }
		require.NoError(t, copyAsItWas(filepath.Join(dir, "demo"), s.folder))
		base, stop := startService(t, filepath.Join(s.folder, "shop.duckdb"))
		s.base, s.stop = base, func() {
			stop()
			os.RemoveAll(s.folder)
		}
	})
	require.NotEmpty(t, s.base, "the service did not start for an earlier test")
	return s.base
}

// served starts the service on a book and gives its address.
func served(t *testing.T, book string) string {
	t.Helper()
	base, stop := startService(t, book)
	t.Cleanup(stop)
	return base
}

// startService is served, with what ends the service.
func startService(t *testing.T, book string) (base string, stop func()) {
	t.Helper()
	var out, errs lockedBuffer
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan int, 1)
	go func() {
		done <- run(ctx, strings.NewReader(""), &out, &errs, []string{"serve", "--book", book, "--addr", "127.0.0.1:0"})
	}()
	stop = sync.OnceFunc(func() {
		cancel()
		assert.Zero(t, <-done, errs.String())
	})
	address := regexp.MustCompile(`http://127\.0\.0\.1:\d+`)
	for range 2000 {
		if a := address.FindString(out.String()); a != "" {
			return a, stop
		}
		time.Sleep(10 * time.Millisecond)
	}
	stop()
	t.Fatal("the service did not start: " + errs.String())
	return "", nil
}
