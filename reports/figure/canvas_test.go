package figure

import (
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

func face(bold bool) font.Face {
	sty := lettering(12, ink, bold)
	return sty.Handler.Cache().Lookup(sty.Font, sty.Font.Size)
}

func square10() vg.Path {
	var p vg.Path
	p.Move(vg.Point{})
	p.Line(vg.Point{X: 10})
	p.Line(vg.Point{X: 10, Y: 10})
	p.Close()
	return p
}

// SVG's y runs down, vg's up; the transforms follow the order in which they
// were set, and Pop takes them back.
func TestCanvasTransforms(t *testing.T) {
	c := newCanvas(100)
	c.Push()
	c.Translate(vg.Point{X: 5, Y: 20})
	c.Scale(2, 1)
	c.Rotate(math.Pi / 2)
	c.Fill(square10())
	c.Pop()
	c.Fill(square10())
	c.Pop()
	c.Pop() // one too many does no harm
	assert.Contains(t, c.body.String(), `d="M5,80L5,70L-15,70Z"`)
	assert.Contains(t, c.body.String(), `d="M0,100L10,100L10,90Z"`)
}

func TestCanvasTextAlongALine(t *testing.T) {
	c := newCanvas(100)
	c.Rotate(math.Pi / 2)
	c.FillString(face(true), vg.Point{X: 10, Y: -30}, `a<b & "c"`)
	assert.Contains(t, c.body.String(), `transform="rotate(-90 30 90)"`)
	assert.Contains(t, c.body.String(), `font-weight="600"`)
	assert.Contains(t, c.body.String(), `a&lt;b &amp; &#34;c&#34;`)
}

func TestCanvasLinesAndColours(t *testing.T) {
	c := newCanvas(10)
	c.SetColor(color.RGBA{R: 255, A: 255})
	c.SetLineWidth(0)
	c.Stroke(square10())
	assert.Empty(t, c.body.String(), "a line without width is not drawn")
	c.SetLineWidth(1)
	c.SetLineDash([]vg.Length{5, 3}, 0)
	c.Stroke(square10())
	assert.Contains(t, c.body.String(), `stroke="#ff0000"`)
	assert.Contains(t, c.body.String(), `stroke-dasharray="5 3"`)
	c.SetColor(nil)
	c.Fill(square10())
	assert.Contains(t, c.body.String(), `class="f-ink" fill="#26231f"`)
}

// A full circle is four arcs that end where they began.
func TestCanvasCircle(t *testing.T) {
	c := newCanvas(10)
	var p vg.Path
	p.Move(vg.Point{X: 7, Y: 5})
	p.Arc(vg.Point{X: 5, Y: 5}, 2, 0, 2*math.Pi)
	c.Fill(p)
	assert.Contains(t, c.body.String(), `d="M7,5L7,5A2,2 0 0 0 5,3A2,2 0 0 0 3,5A2,2 0 0 0 5,7A2,2 0 0 0 7,5"`)
}

func TestCanvasCurves(t *testing.T) {
	c := newCanvas(10)
	var p vg.Path
	p.Move(vg.Point{})
	p.QuadTo(vg.Point{X: 1}, vg.Point{X: 2})
	p.CubeTo(vg.Point{X: 3}, vg.Point{X: 4}, vg.Point{X: 5})
	c.Fill(p)
	assert.Contains(t, c.body.String(), `d="M0,10Q1,10 2,10C3,10 4,10 5,10"`)
}

func TestCanvasDropsWhatIsNotFinite(t *testing.T) {
	c := newCanvas(10)
	var p vg.Path
	p.Move(vg.Point{X: vg.Length(math.NaN())})
	p.Line(vg.Point{X: 1})
	c.Stroke(p)
	c.Fill(p)
	c.Fill(nil)
	c.FillString(face(false), vg.Point{X: vg.Length(math.Inf(1))}, "x")
	c.FillString(face(false), vg.Point{}, "")
	c.DrawImage(vg.Rectangle{}, nil)
	assert.Empty(t, c.body.String())
}

func TestTicksAreRound(t *testing.T) {
	labels := func(lo, hi, scale float64) (out []string) {
		for _, k := range ticks(lo, hi, scale, "") {
			out = append(out, k.label)
		}
		return out
	}
	assert.Equal(t, []string{"0", "5", "10", "15"}, labels(0, 0.16, 100))
	assert.Equal(t, []string{"−25", "0", "25", "50"}, labels(-30, 50, 1))
	assert.Equal(t, []string{"0", "500", "1,000", "1,500"}, labels(0, 1600, 1))
	assert.Equal(t, []string{"0", "0.0005", "0.001", "0.0015"}, labels(0, 0.0018, 1))
	assert.Equal(t, []string{"0", "0.25", "0.5", "0.75"}, labels(0, 0.9, 1))
	assert.Empty(t, labels(1, 1, 1))
	assert.Empty(t, labels(math.NaN(), 1, 1))
	assert.Empty(t, labels(0, math.Inf(1), 1))
	for _, hi := range []float64{1e-9, 0.37, 1, 7, 13, 99, 1e6} {
		n := len(labels(0, hi, 1))
		assert.True(t, n >= 3 && n <= 8, "%v gives %d", hi, n)
	}
}
