package letter

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/reports/testdata/browser"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everything asks for all numbers of the tallest boots, over trousers too.
func everything(heights int) Ask {
	a := Ask{FormID: "F-1234567", Received: day, Unit: form.Inch, Tracing: true, Marks: true}
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

// questions are all that stand on their own without a place.
func questions(n int) (out []Question) {
	for _, key := range []string{AskHow, AskAlone, AskOrthotic, AskSwelling}[:n] {
		out = append(out, Question{Key: key})
	}
	return out
}

// Every letter is one page, on A4 and on Letter, asks the network for nothing,
// and fits a phone. Only with all numbers of the tallest boots and all questions it
// takes the back of the sheet too. With CI=true letters of eight lengths, otherwise the
// shortest, the longest that fits a page and the one that does not.
func TestPrintsOnOnePage(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	ctx, requests := browser.Open(t)
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
	asks := oneLeg()
	asks.Questions, asks.Marks = questions(4), true
	cases["one leg, all questions"] = asks
	usual := everything(3)
	usual.Questions = questions(2)
	cases["all, three heights, two questions"] = usual
	both := everything(7)
	both.Questions = questions(4)
	cases["all there is"] = both
	if !breadth.Wide() {
		maps.DeleteFunc(cases, func(name string, _ Ask) bool {
			return !slices.Contains([]string{"tracing", "all, seven heights", "all there is"}, name)
		})
	}
	for name, a := range cases {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "letter.html")
			require.NoError(t, os.WriteFile(file, []byte(printed(t, Write(English(), a))), 0o600))
			*requests = nil
			browser.Visit(t, ctx, file)
			assert.Equal(t, []string{"file://" + file}, *requests)
			for _, paper := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
				pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
				require.NoError(t, err)
				most := 1
				if name == "all there is" {
					most = 2
				}
				assert.LessOrEqual(t, browser.Pages(pdf), most, "paper %v", paper)
			}
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(360, 800)))
			wide, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > document.documentElement.clientWidth"))
			require.NoError(t, err)
			assert.False(t, wide, "sideways scrolling on a phone")
		})
	}
}
