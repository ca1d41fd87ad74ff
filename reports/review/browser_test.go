package review

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/reports/page"
	"lastroom/reports/testdata/browser"
)

// asFile is a review of n invented orders as a file.
func asFile(t *testing.T, n int) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "review.html")
	var b bytes.Buffer
	require.NoError(t, page.HTML(&b, document(made(t, n))))
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
	return file
}

// eval runs a script in the page and gives its value.
func eval[T any](t *testing.T, ctx context.Context, js string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	require.NoError(t, err)
	return v
}

func size(t *testing.T, ctx context.Context, w int64) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(w, 900)))
}

// With CI=true the page is looked at in four widths, otherwise in the least and the
// largest, of which each has a drawing of its own.
func TestPageInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	file := asFile(t, 1500)
	ctx, requests := browser.Open(t)
	browser.Visit(t, ctx, file)

	t.Run("asks for nothing", func(t *testing.T) {
		assert.Equal(t, []string{"file://" + file}, *requests)
	})
	for _, w := range []int64{320, 1400, 390, 820}[:breadth.Few(2, 4)] {
		t.Run("no sideways scrolling at "+strconv.FormatInt(w, 10), func(t *testing.T) {
			size(t, ctx, w)
			wide := eval[[]string](t, ctx, `(() => { const out = []; const w = document.documentElement.clientWidth;
				if (document.documentElement.scrollWidth > w) out.push("page " + document.documentElement.scrollWidth);
				for (const e of document.querySelectorAll("h1,h2,h3,p,li,figure,.scroll,.finding,.drawing"))
					if (e.getBoundingClientRect().right > w + 1) out.push(e.tagName + " " + e.textContent.slice(0, 40));
				return out; })()`)
			assert.Empty(t, wide)
			shown := eval[[]bool](t, ctx, `[...document.querySelectorAll("#run-chart .drawing")].map(e => e.offsetHeight > 0)`)
			assert.Equal(t, []bool{w > 640, w <= 640}, shown, "one drawing is shown, the right one")
		})
	}
	for _, mode := range []string{"light", "dark"} {
		t.Run("contrast, "+mode, func(t *testing.T) {
			size(t, ctx, 1200)
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: mode}}})
			require.NoError(t, err)
			checkContrast(t, ctx, mode)
		})
	}
	t.Run("by keyboard", func(t *testing.T) {
		reached := eval[bool](t, ctx, `(() => { const s = document.querySelector("#run-chart summary"); s.focus(); return document.activeElement === s; })()`)
		assert.True(t, reached)
		require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("\r")))
		rows := eval[int](t, ctx, `[...document.querySelectorAll("#run-chart details[open] tbody tr")].filter(e => e.offsetHeight > 0).length`)
		assert.Greater(t, rows, 12, "Enter opens the table behind the figure")
	})
	t.Run("print", func(t *testing.T) {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
		require.NoError(t, err)
		size(t, ctx, 1200)
		printed(t, ctx, 1500)
		if breadth.Wide() {
			browser.Visit(t, ctx, asFile(t, 60))
			printed(t, ctx, 60)
		}
	})
}

// checkContrast holds all text to WCAG 2.2 AA (success criterion 1.4.3): 4.5
// to 1, relative luminance as WCAG defines it; text of figures included.
func checkContrast(t *testing.T, ctx context.Context, mode string) {
	t.Helper()
	bad := eval[[]string](t, ctx, `(() => {
		const rgb = s => s.match(/[\d.]+/g).map(Number);
		const lum = c => { const f = c.slice(0, 3).map(v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * f[0] + 0.7152 * f[1] + 0.0722 * f[2]; };
		const ground = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
		const out = [];
		for (const e of document.querySelectorAll("h1,h2,h3,p,li,th,td,dt,dd,a,summary,caption,figcaption span,.unit,.drawing.wide text")) {
			if (!e.textContent.trim()) continue;
			const cs = getComputedStyle(e);
			let fg = rgb(e.tagName === "text" ? cs.fill : cs.color), bg = ground(e);
			if (e.tagName === "text" && e.classList.contains("f-paper")) continue;
			const a = lum(fg), b = lum(bg), r = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
			if (r < 4.5) out.push(r.toFixed(2) + " " + e.tagName + " " + e.textContent.trim().slice(0, 30));
		}
		return out; })()`)
	assert.Empty(t, bad)
	ground := eval[string](t, ctx, `getComputedStyle(document.body).backgroundColor`)
	if mode == "dark" {
		assert.Equal(t, "rgb(27, 25, 23)", ground)
	}
}

func pages(t *testing.T, ctx context.Context, paper chromedp.PaperSize) int {
	t.Helper()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
	require.NoError(t, err)
	return browser.Pages(pdf)
}

// printed prints the review of n orders on Letter, the lowest paper, with CI=true also on
// A4: sheet one and sheet two each take one page, and the annex follows.
func printed(t *testing.T, ctx context.Context, n int) {
	for _, paper := range []chromedp.PaperSize{chromedp.PaperLetter, chromedp.PaperA4}[:breadth.Few(1, 2)] {
		whole := pages(t, ctx, paper)
		eval[int](t, ctx, `document.querySelectorAll(".sheet").forEach(e => e.hidden = !e.matches(".sheet-1,.sheet-2")) || 1`)
		assert.Equal(t, 2, eval[int](t, ctx, `document.querySelectorAll(".sheet:not([hidden])").length`))
		assert.Equal(t, 2, pages(t, ctx, paper), "%d orders, sheets one and two, paper %v", n, paper)
		eval[int](t, ctx, `document.querySelectorAll(".sheet").forEach(e => e.hidden = false) || 1`)
		assert.GreaterOrEqual(t, whole, 3)
		assert.LessOrEqual(t, whole, 14)
	}
}
