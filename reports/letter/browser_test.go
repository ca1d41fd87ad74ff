package letter

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"lastroom/analysis/form"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// browser finds Chromium; a test skips without one, unless CI=true.
func browser(t *testing.T) context.Context {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		bin, err := exec.LookPath(name)
		if err != nil {
			continue
		}
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(bin), chromedp.Flag("no-sandbox", os.Geteuid() == 0),
			chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-background-networking", true))
		alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
		t.Cleanup(stop)
		ctx, cancel := chromedp.NewContext(alloc)
		t.Cleanup(cancel)
		ctx, done := context.WithTimeout(ctx, 60*time.Second)
		t.Cleanup(done)
		return ctx
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("no Chromium on this machine, and CI=true")
	}
	t.Skip("no Chromium on this machine: letter not printed")
	return nil
}

// everything asks for all numbers of the tallest boots, over trousers too.
func everything(heights int) Ask {
	a := Ask{FormID: "F-1234567", Received: day, Unit: form.Inch, Tracing: true}
	for _, side := range form.Sides {
		for _, p := range form.Points[:form.Leg] {
			a.Places = append(a.Places, place(side, form.Bare, p))
		}
		for k := range heights {
			h := form.Height(177.8 + 50.8*float64(k))
			a.Places = append(a.Places, place(side, form.Bare, form.Leg, h), place(side, form.Tucked, form.Leg, h))
		}
	}
	return a
}

var pdfPages = regexp.MustCompile(`/Type\s*/Page[^s]`)

// Every letter is one page, on A4 and on Letter, asks the network for nothing,
// and fits a phone.
func TestPrintsOnOnePage(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	ctx := browser(t)
	var requests []string
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			requests = append(requests, e.Request.URL)
		}
	}))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	cases := map[string]Ask{"one leg": oneLeg(), "tracing": {FormID: "F", Tracing: true}, "all, seven heights": everything(7)}
	for _, n := range []int{1, 4, len(form.Points) - 1} {
		a := Ask{FormID: "F-99", Received: day, Unit: form.Centimetre}
		for _, p := range form.Points[:n] {
			a.Places = append(a.Places, place(form.Left, form.Bare, p), place(form.Right, form.Bare, p))
		}
		for k := range n {
			h := form.Height(177.8 + 50.8*float64(k))
			a.Places = append(a.Places, place(form.Left, form.Bare, form.Leg, h), place(form.Right, form.Bare, form.Leg, h))
		}
		cases["growing "+form.Points[n].String()] = a
	}
	for name, a := range cases {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "letter.html")
			require.NoError(t, os.WriteFile(file, []byte(printed(t, Write(English(), a))), 0o600))
			requests = nil
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+file)))
			assert.Equal(t, []string{"file://" + file}, requests)
			for _, paper := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
				pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
				require.NoError(t, err)
				assert.Len(t, pdfPages.FindAll(pdf, -1), 1, "paper %v", paper)
			}
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(360, 800)))
			wide, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > document.documentElement.clientWidth"))
			require.NoError(t, err)
			assert.False(t, wide, "sideways scrolling on a phone")
		})
	}
}
