// Package browser starts Chromium for the tests of what is shown and printed.
// Under testdata it is no part of the program.
package browser

import (
	"context"
	"os"
	"os/exec"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// Open starts a Chromium that ends with the test, and notes the addresses that its
// page asks for. Without one on the machine the test is skipped; under CI=true it
// fails.
func Open(t testing.TB) (ctx context.Context, requests *[]string) {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path(t)), chromedp.Flag("no-sandbox", os.Geteuid() == 0),
		chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("hide-scrollbars", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	requests = &[]string{}
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			*requests = append(*requests, e.Request.URL)
		}
	}))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	ctx, done := context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(done)
	return ctx, requests
}

func path(t testing.TB) string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if bin, err := exec.LookPath(name); err == nil {
			return bin
		}
	}
	if breadth.Wide() {
		t.Fatal("no Chromium on this machine, and CI=true")
	}
	t.Skip("no Chromium on this machine: pages not looked at")
	return ""
}

// Visit opens a file.
func Visit(t testing.TB, ctx context.Context, file string) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+file)))
}

var pageObject = regexp.MustCompile(`/Type\s*/Page[^s]`)

// Pages counts the pages of a PDF as Chromium writes it.
func Pages(pdf []byte) int { return len(pageObject.FindAll(pdf, -1)) }
