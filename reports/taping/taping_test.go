package taping

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/session"
	"lastroom/analysis/testdata/breadth"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
	"lastroom/reports/testdata/browser"
	"lastroom/reports/translation"
)

// class is a session in which the first who learns reads the ball 8 mm long and the second
// everything as the instructor, each of eight legs twice.
func class() (*session.Plan, []session.Entry) {
	p := &session.Plan{ID: `S <1> "x\`, Day: "2026-11-26", Seed: 5, Instructor: "boss", Measurers: []string{"Ann <b>", "Ben"}, Subjects: []string{"A", "B", "C", "D"}, Trials: 2, Unit: form.Inch,
		Spots: []session.Spot{{Point: form.Ball}, {Point: form.Leg, HeightMM: 177.8}, {Point: form.Leg, HeightMM: 228.6}, {Point: form.Leg, HeightMM: 279.4}}}
	var entries []session.Entry
	for i, t := range p.Turns() {
		e := session.Entry{Person: t.Person, Subject: t.Subject, Trial: t.Trial}
		for _, side := range form.Sides {
			for k := range p.Spots {
				v := 240 + 50*float64(k) + 5*float64(t.Subject) + float64(side) + 0.5*float64((i*7+k*3)%5)
				if t.Person == 1 && k == 0 {
					v += 8
				}
				e.Readings = append(e.Readings, session.Reading{Side: side, Spot: k, Written: form.Inch.Text(v), ValueMM: v})
			}
		}
		entries = append(entries, e)
	}
	return p, entries
}

// inClass are the results of the class, each worked out once.
var inClass = sync.OnceValues(func() (together []page.Block, own [3]*page.Document) {
	p, entries := class()
	return Together(p, entries), [3]*page.Document{1: Result(p, entries, 1), 2: Result(p, entries, 2)}
})

func text(t *testing.T, d *page.Document) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, page.WriteText(&b, d, page.TextOptions{}))
	return b.String()
}

// One's own page says what to work on, and nothing of the others.
func TestResultIsOnesOwn(t *testing.T) {
	p, entries := class()
	_, own := inClass()
	ann, ben := text(t, own[1]), text(t, own[2])
	assert.Contains(t, ann, "Ball girth: 8 mm more than the instructor on average")
	assert.NotContains(t, ann, "Ben")
	assert.NotContains(t, ben, "Ann")
	assert.Contains(t, ben, "Nothing stands out")
	assert.Contains(t, ann, "licensed")
	var html bytes.Buffer
	require.NoError(t, page.HTML(&html, own[1]))
	assert.NotContains(t, html.String(), "Ann <b>")

	// With one leg there is an answer, and no number.
	p.Subjects = p.Subjects[:1]
	var few []session.Entry
	for _, e := range entries {
		if e.Subject == 0 {
			few = append(few, e)
		}
	}
	assert.Contains(t, text(t, Result(p, few, 1)), "too few to tell")
	assert.Contains(t, text(t, Result(p, nil, 1)), "too few to tell")
}

// All together: a figure a spot, a row a measurer and spot.
func TestTogether(t *testing.T) {
	p, _ := class()
	all, _ := inClass()
	figures, rows := 0, 0
	for _, b := range all {
		switch b := b.(type) {
		case page.Figure:
			figures++
			assert.Len(t, b.Data.Rows, 2)
		case page.Table:
			rows = len(b.Rows)
			assert.Equal(t, "no", b.Rows[0][4].Text)
			assert.Equal(t, "yes", b.Rows[1][4].Text)
		}
	}
	assert.Equal(t, 4, figures)
	assert.Equal(t, 8, rows)
	assert.NotEmpty(t, Together(p, nil))
}

// Printed on all four papers, every day on the narrowest alone: the timetable, then a sheet for each with a box for
// every number; nothing in the margins of a home printer.
func TestSheetsPrinted(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	ctx, requests := browser.Open(t)
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("no pdftotext on this machine: the PDF can't be read")
	}
	dir := os.Getenv("LOOK")
	if dir == "" {
		dir = t.TempDir()
	}
	words := regexp.MustCompile(`<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">`)
	p, _ := class()
	for _, paper := range sheet.Papers[:breadth.Few(1, len(sheet.Papers))] {
		t.Run(paper.Name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, Sheets(&b, p, paper, nil))
			assert.Equal(t, 3*8*2*4, strings.Count(b.String(), `class="box"`))
			assert.NotContains(t, b.String(), "Ann <b>")
			file := filepath.Join(dir, "session-"+paper.Name+".html")
			require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
			*requests = nil
			browser.Visit(t, ctx, file)
			pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
			require.NoError(t, err)
			assert.Equal(t, []string{"file://" + file}, *requests)
			out := strings.TrimSuffix(file, "html") + "pdf"
			require.NoError(t, os.WriteFile(out, pdf, 0o600))
			got, err := exec.Command("pdftotext", "-layout", out, "-").Output()
			require.NoError(t, err)
			for i, page := range strings.Split(strings.TrimSuffix(string(got), "\f"), "\f") {
				assert.Contains(t, page, `Session S <1> "x\, lot 5`, "page %d", i+1)
			}
			boxes, err := exec.Command("pdftotext", "-bbox", out, "-").Output()
			require.NoError(t, err)
			const point, white = 72 / 25.4, 6.4 * 72 / 25.4
			at := func(s string) float64 { x, err := strconv.ParseFloat(s, 64); require.NoError(t, err); return x }
			for _, m := range words.FindAllStringSubmatch(string(boxes), -1) {
				assert.False(t, at(m[1]) < white || at(m[2]) < white || at(m[3]) > paper.Width*point-white || at(m[4]) > paper.Height*point-white, m[0])
			}
		})
	}
}

// Every sentence can be said in German; names stay.
func TestSessionsAreWholeInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	p, _ := class()
	together, own := inClass()
	all := &page.Document{Title: "Measuring together", Sections: []page.Section{{Blocks: together}, {Blocks: Together(p, nil)}}}
	for _, d := range []*page.Document{all, own[1], own[2], Result(p, nil, 1)} {
		var html bytes.Buffer
		require.NoError(t, page.HTML(&html, d))
		_, untold := l.Page(html.Bytes())
		for _, u := range untold {
			assert.Contains(t, []string{"Ann <b>", "Ben"}, strings.Trim(u, "(),"), d.Title)
		}
	}
	var sheets bytes.Buffer
	require.NoError(t, Sheets(&sheets, p, sheet.Papers[0], nil))
	_, untold := l.Page(sheets.Bytes())
	assert.Empty(t, untold)
}
