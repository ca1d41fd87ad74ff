package sheet

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/makiuchi-d/gozxing"
	gozxingmatrix "github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/reports/testdata/browser"
	"lastroom/reports/translation"
)

// tall asks for the most boxes that a boot needs: 20 inches, over trousers too.
var tall = Order{Form: "F-1234567", Number: "O-1001", Name: "A. Person", ShaftMM: 20 * 25.4, Tucked: true}

func lessons() (out []Lesson) {
	for i, f := range form.Faults {
		l := Lesson{Fault: f.ID}
		if i%2 == 0 {
			l.Own = stats.Estimate{Point: 0.061, Low: 0.012, High: 0.123, Level: 0.95, N: 1340, Method: "adjusted risk difference"}
		}
		out = append(out, l)
	}
	return out
}

const dots = 5 // a millimetre, of the pages as they are measured

// printPDF opens a file that asks for nothing and prints it on its own paper.
func printPDF(t *testing.T, ctx context.Context, file string) []byte {
	browser.Visit(t, ctx, file)
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	require.NoError(t, err)
	return pdf
}

// grey rasterises a page of a PDF in greys.
func grey(t *testing.T, pdf string, page int) *image.Gray {
	out, err := exec.Command("pdftoppm", "-png", "-gray", "-r", fmt.Sprint(dots*25.4), "-f", fmt.Sprint(page), "-l", fmt.Sprint(page), pdf).Output()
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	grey := image.NewGray(img.Bounds())
	draw.Draw(grey, grey.Bounds(), img, image.Point{}, draw.Src)
	return grey
}

func dark(img *image.Gray, x, y int) bool { return img.GrayAt(x, y).Y < 0x60 }

// On all four papers, every day on the narrowest: as many pages as there should be, none overflowing; the
// scale bar measures 100 mm to half a millimetre in the PDF; nothing in the
// margins; the code is read by another library than the one that wrote it; no
// request.
func TestSheetsArePrintedTrue(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	ctx, requests := browser.Open(t)
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		t.Skip("no pdftoppm on this machine: the PDF can't be measured")
	}
	dir := os.Getenv("LOOK")
	if dir == "" {
		dir = t.TempDir()
	}
	for i, p := range Papers[:breadth.Few(1, len(Papers))] {
		t.Run(p.Name, func(t *testing.T) {
			file := filepath.Join(dir, p.Name+".html")
			var b bytes.Buffer
			require.NoError(t, Print(&b, Words.Language(translation.English), []Order{tall, {ShaftMM: 150}}, Layout{p, form.Units[i%3], form.DefaultScheme, Versions[i%2]}))
			require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
			*requests = nil
			pdf := printPDF(t, ctx, file)
			assert.Equal(t, []string{"file://" + file}, *requests)
			assert.Equal(t, 8, browser.Pages(pdf))
			for _, what := range overflowing(t, ctx) {
				assert.Fail(t, "cut off", what)
			}
			name := filepath.Join(dir, p.Name+".pdf")
			require.NoError(t, os.WriteFile(name, pdf, 0o600))
			for _, n := range []int{1 + i%2} {
				img := grey(t, name, n)
				assert.InDelta(t, p.Width, float64(img.Bounds().Dx())/dots, 0.5)
				assert.InDelta(t, p.Height, float64(img.Bounds().Dy())/dots, 0.5)
				assert.InDelta(t, barMM, longestUpright(img, int(p.Width-78)*dots)/dots, 0.5, "the scale bar of page %d", n)
				assertMarginsWhite(t, img)
				bitmap, err := gozxing.NewBinaryBitmapFromImage(img.SubImage(image.Rect(int(p.Width-40)*dots, 12*dots, int(p.Width-14)*dots, 36*dots)))
				require.NoError(t, err)
				got, err := gozxingmatrix.NewDataMatrixReader().Decode(bitmap, nil)
				require.NoError(t, err)
				assert.Equal(t, codeText(tall.Form, "LR"[n-1:n], Versions[i%2]), got.GetText())
			}
			assertMarginsWhite(t, grey(t, name, 3))

			b.Reset()
			require.NoError(t, Teach(&b, Words.Language(translation.English), lessons(), p, form.DefaultScheme))
			file = filepath.Join(dir, p.Name+"-teach.html")
			require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
			if i < 2 || os.Getenv("LOOK") != "" { // the smaller papers are the tight ones
				pdf = printPDF(t, ctx, file)
				require.NoError(t, os.WriteFile(strings.TrimSuffix(file, "html")+"pdf", pdf, 0o600))
				assert.Equal(t, len(form.Faults), browser.Pages(pdf))
			} else {
				browser.Visit(t, ctx, file)
			}
			for _, what := range overflowing(t, ctx) {
				assert.Fail(t, "cut off", what)
			}
		})
	}
}

// overflowing names the pages and columns whose content is larger than they.
func overflowing(t *testing.T, ctx context.Context) []string {
	out, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll(".page,.beside")].filter(e=>e.scrollHeight>e.clientHeight+1||e.scrollWidth>e.clientWidth+1).map(e=>e.className+" "+e.innerText.slice(0,40)+" "+e.scrollHeight+">"+e.clientHeight)`))
	require.NoError(t, err)
	return out
}

// longestUpright is the longest dark upright line right of x, in dots.
func longestUpright(img *image.Gray, x0 int) float64 {
	best := 0
	b := img.Bounds()
	for x := x0; x < b.Max.X-10*dots; x++ {
		run := 0
		for y := range b.Max.Y {
			if dark(img, x, y) {
				run++
				best = max(best, run)
			} else {
				run = 0
			}
		}
	}
	return float64(best)
}

// assertMarginsWhite looks whether anything stands within the white border.
func assertMarginsWhite(t *testing.T, img *image.Gray) {
	t.Helper()
	b, edge := img.Bounds(), int(margin*dots)-1
	for y := range b.Max.Y {
		for x := range b.Max.X {
			if x >= edge && x < b.Max.X-edge && y >= edge && y < b.Max.Y-edge {
				continue
			}
			if dark(img, x, y) {
				t.Fatalf("something stands in the margin at %d, %d of %v", x, y, b.Max)
			}
		}
	}
}
