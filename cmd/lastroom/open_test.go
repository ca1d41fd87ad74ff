package main

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Started twice, the program runs once and both times shows its pages; a button on
// them ends it, and then it can be started again.
func TestOpen(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the program that opens links is replaced on Linux only")
	}
	dir := t.TempDir()
	opened := filepath.Join(dir, "opened")
	script := "#!/bin/sh\necho \"$1\" >> '" + opened + "'\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "xdg-open"), []byte(script), 0o700))
	t.Setenv("PATH", dir+":"+os.Getenv("PATH"))
	book := filepath.Join(dir, "documents", "shop.duckdb")
	start := func() chan int {
		ended := make(chan int, 1)
		go func() {
			var out, errs bytes.Buffer
			ended <- run(t.Context(), strings.NewReader(""), &out, &errs, []string{"open", "--book", book})
		}()
		return ended
	}
	shown := func(times int) []string {
		var urls []string
		require.Eventually(t, func() bool {
			text, _ := os.ReadFile(opened)
			urls = strings.Fields(string(text))
			return len(urls) >= times
		}, time.Minute, 20*time.Millisecond)
		return urls
	}
	first := start()
	url := shown(1)[0]
	assert.Equal(t, 0, <-start(), "the second start shows the pages and ends")
	assert.Equal(t, []string{url, url}, shown(2))

	end := func(origin string) int {
		req, err := http.NewRequest("POST", url+"end", nil)
		require.NoError(t, err)
		req.Header.Set("Origin", origin)
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode
	}
	assert.Equal(t, http.StatusForbidden, end("http://example.org"), "another site doesn't end it")
	assert.Equal(t, http.StatusOK, end(strings.TrimSuffix(url, "/")))
	assert.Equal(t, 0, <-first)

	again := start()
	url = shown(3)[2]
	assert.Equal(t, http.StatusOK, end(strings.TrimSuffix(url, "/")))
	assert.Equal(t, 0, <-again)
}
