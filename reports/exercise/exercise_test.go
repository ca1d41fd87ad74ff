package exercise

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/analysis/testdata/breadth"
	"lastroom/reports/page"
	"lastroom/reports/sheet"
	"lastroom/reports/testdata/browser"
	"lastroom/reports/translation"
)

func set(t *testing.T, seed uint64, n int) *practice.Set {
	t.Helper()
	s, err := practice.Plan{Seed: seed, Forms: n}.Set()
	require.NoError(t, err)
	return s
}

// The worksheet says nothing of what is planted, the key says all of it.
func TestTheWorksheetHidesAndTheKeyShows(t *testing.T) {
	s := set(t, 7, 20)
	var b, k bytes.Buffer
	require.NoError(t, Worksheet(&b, s, sheet.Papers[0], nil))
	require.NoError(t, Key(&k, s, sheet.Papers[0], nil))
	for _, text := range []string{b.String(), k.String()} {
		_, err := html.Parse(strings.NewReader(text))
		require.NoError(t, err)
		assert.Contains(t, text, "Set 7, 20 forms")
		assert.NotContains(t, text, "ZgotmplZ")
	}
	body, _, _ := strings.Cut(b.String(), "What can be wrong")
	_, body, _ = strings.Cut(body, "<body>")
	assert.NotContains(t, body, "odd")
	assert.NotContains(t, body, "<circle")
	for _, f := range form.Faults {
		assert.NotContains(t, body, f.Title)
		assert.Contains(t, k.String(), f.Title)
	}
	for _, row := range s.Key() {
		assert.Contains(t, k.String(), escaped(row.Why))
	}
}

func escaped(s string) string { return strings.ReplaceAll(s, "'", "&#39;") }

// A box for every number that the boot needs, none else; a box is empty where the
// form has no number, and only then.
func TestBoxes(t *testing.T) {
	for seed := range uint64(10) {
		for _, f := range set(t, seed, 20).Forms {
			g, filled := GridOf(f, false), 0
			heights := len(form.DefaultScheme.Heights(f.Boot.ShaftMM))
			assert.Len(t, g.Rows, 6+heights)
			asked := 0
			for _, r := range g.Rows {
				for _, c := range r.Cells {
					if c.Asked {
						asked++
					}
					if c.Text != "" {
						filled++
						assert.True(t, c.Asked)
					}
					assert.False(t, c.Odd)
				}
			}
			want := 2 * (6 + heights)
			if f.Boot.Tucked {
				want += 2 * heights
			}
			assert.Equal(t, want, asked)
			assert.Equal(t, len(f.Numbers), filled, f.ID)
		}
	}
}

// Printed on all four papers, every day fewer forms on the lowest alone: nothing in the
// margins, no form cut over two pages, the set's number on every page.
func TestPrinted(t *testing.T) {
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
	size := regexp.MustCompile(`<page width="([\d.]+)" height="([\d.]+)"`)
	forms := breadth.Few(8, 20)
	s, papers := set(t, 7, forms), sheet.Papers
	if !breadth.Wide() {
		papers = papers[1:2]
	}
	for _, p := range papers {
		for name, write := range map[string]func(*bytes.Buffer) error{
			"worksheet": func(b *bytes.Buffer) error { return Worksheet(b, s, p, nil) },
			"key":       func(b *bytes.Buffer) error { return Key(b, s, p, nil) }} {
			t.Run(p.Name+" "+name, func(t *testing.T) {
				var b bytes.Buffer
				require.NoError(t, write(&b))
				file := filepath.Join(dir, p.Name+"-"+name+".html")
				require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
				*requests = nil
				browser.Visit(t, ctx, file)
				pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
				require.NoError(t, err)
				assert.Equal(t, []string{"file://" + file}, *requests)
				out := filepath.Join(dir, p.Name+"-"+name+".pdf")
				require.NoError(t, os.WriteFile(out, pdf, 0o600))
				text, err := exec.Command("pdftotext", "-layout", out, "-").Output()
				require.NoError(t, err)
				pages := strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
				assert.Equal(t, browser.Pages(pdf), len(pages))
				start := map[string]int{}
				for i, page := range pages {
					assert.Contains(t, page, fmt.Sprintf("Set 7, %d forms", forms), "page %d", i+1)
					for k := range s.Forms {
						if strings.Contains(page, s.Forms[k].ID+" ") {
							start[s.Forms[k].ID]++
						}
					}
					says := "measure again"
					if name == "key" {
						says = "Say:"
					}
					assert.Equal(t, strings.Count(page, "Shaft "), strings.Count(page, says)-strings.Count(page, "ask, or measure again."), "page %d: a form is cut", i+1)
				}
				assert.Len(t, start, len(s.Forms))
				boxes, err := exec.Command("pdftotext", "-bbox", out, "-").Output()
				require.NoError(t, err)
				const point = 72 / 25.4
				for _, m := range size.FindAllStringSubmatch(string(boxes), -1) {
					assert.InDelta(t, p.Width*point, number(t, m[1]), 1)
					assert.InDelta(t, p.Height*point, number(t, m[2]), 1)
				}
				const white = 6.4 * point // what home printers leave unprinted
				for _, m := range words.FindAllStringSubmatch(string(boxes), -1) {
					if number(t, m[1]) < white || number(t, m[3]) > p.Width*point-white || number(t, m[4]) > p.Height*point-white || number(t, m[2]) < white {
						assert.Fail(t, "a word stands in the margin", m[0])
					}
				}
			})
		}
	}
}

func number(t *testing.T, s string) (x float64) {
	t.Helper()
	_, err := fmt.Sscan(s, &x)
	require.NoError(t, err)
	return x
}

// A form has one unit: its boxes, its heights and its shaft.
func TestAFormIsInItsUnit(t *testing.T) {
	for unit, want := range map[form.Unit][2]string{form.Inch: {"Leg at 7 in", ` in$`}, form.Centimetre: {"Leg at 17.8 cm", ` cm$`}} {
		s, err := practice.Plan{Seed: 7, Forms: 20, Unit: unit}.Set()
		require.NoError(t, err)
		for _, f := range s.Forms {
			g := GridOf(f, false)
			assert.Equal(t, want[0], g.Rows[6].Name)
			for _, r := range g.Rows {
				for _, c := range r.Cells {
					if c.Text != "" {
						assert.Regexp(t, want[1], c.Text)
					}
				}
			}
			assert.Regexp(t, `^Shaft [\d.]+ `+unit.String()+`; `, Boot(f))
		}
	}
}

// In German the line at the foot of each page, which is part of its style, is German too,
// and the style is still the one that the page allows itself.
func TestTheWorksheetInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Key(&b, set(t, 7, 20), sheet.Papers[0], l))
	assert.Contains(t, b.String(), `content:"Satz 7, 20 Bögen"`)
	assert.Contains(t, b.String(), `<html lang="de">`)
	_, css, _ := strings.Cut(b.String(), "<style>")
	css, _, _ = strings.Cut(css, "</style>")
	sum := sha256.Sum256([]byte(css))
	assert.Contains(t, html.UnescapeString(b.String()), "style-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
}

// Every sentence of the sheets, and of how it went, can be said in German.
func TestPracticeIsWholeInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	s := set(t, 7, 40)
	var pages []*page.Document
	for _, u := range form.Units {
		in, err := practice.Plan{Seed: 7, Forms: 40, Unit: u}.Set()
		require.NoError(t, err)
		for _, write := range []func(io.Writer, *practice.Set, sheet.Paper, *translation.Language) error{Worksheet, Key} {
			var b bytes.Buffer
			require.NoError(t, write(&b, in, sheet.Papers[0], nil))
			_, untold := l.Page(b.Bytes())
			assert.Empty(t, untold)
		}
		pages = append(pages, FormsPage(in), KeyPage(in.Key()))
	}
	var answers []practice.Answer
	for i, f := range s.Forms {
		answers = append(answers, practice.Answer{Learner: "M1", Form: f.ID, Verdict: practice.MeasureAgain, Faults: []string{form.Faults[i%2].ID}})
	}
	marked, err := s.MarkClass([]practice.Said{{Learner: "M1", Answers: answers}})
	require.NoError(t, err)
	m := marked.Learners[0]
	blocks := append(Marking(&m), Class(marked.Rasch))
	blocks = append(blocks, Course([]Mark{{"round 1, 2026-11-26", &m}})...)
	blocks = append(blocks, Later(practice.Foretell(nil))...)
	pages = append(pages, &page.Document{Title: "Practice", Sections: []page.Section{{Blocks: blocks}}}, MarkedPage(marked))
	for _, d := range pages {
		var b bytes.Buffer
		require.NoError(t, page.HTML(&b, d))
		_, untold := l.Page(b.Bytes())
		assert.Empty(t, untold, d.Title)
	}
}
