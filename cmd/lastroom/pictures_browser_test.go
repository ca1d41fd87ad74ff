package main

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

var pictures = flag.String("pictures", "", "draw the README's pictures anew into this folder")

// TestPictures draws the README's pictures of the invented workshop: the first page, sheet
// one of the review as it is printed, and a form that is held.
func TestPictures(t *testing.T) {
	if *pictures == "" {
		t.Skip("draws the README's pictures, where -pictures names their folder")
	}
	dir := t.TempDir()
	status, _, errs := said(t, "demo", "--dir", dir)
	require.Zero(t, status, errs)
	book := filepath.Join(dir, "shop.duckdb")
	const held = "W00441-1"
	status, out, errs := said(t, "check", "--book", book, "--explain", held, "--out", dir)
	require.Equal(t, 1, status, "%s is held no more: choose another form\n%s%s", held, out, errs)

	b := openTab(t, served(t, book))
	draw := func(name string) {
		png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(*pictures, name), png, 0o644))
	}
	b.size(1100, 1240)
	b.visit("/")
	b.says("To decide today")
	draw("first.png")
	file := func(name string) {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.Navigate("file://"+filepath.Join(dir, name))))
	}
	b.size(1000, 2190)
	file("form-" + held + ".html")
	b.says("The numbers on the human range")
	draw("form.png")
	b.size(1075, 960)
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	require.NoError(t, err)
	file("review.html")
	b.says("What we decide")
	eval[int](b, `(document.body.style.padding = "60px", document.querySelectorAll(".sheet:not(.sheet-1)").forEach(e => e.hidden = true), 1)`)
	draw("review.png")
}
