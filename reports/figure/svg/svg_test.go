package svg

import (
	"encoding/xml"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Colours become classes beside plain attributes, inline styles go, text keeps
// its markup as text.
func TestSVGIsCleanedForAPage(t *testing.T) {
	f := Plan{ID: "x", Title: `a<b & "c"`, Desc: "d", Heading: `share < 5 % & "more"`,
		Height: func(vg.Length) vg.Length { return 100 },
		Draw: func(c draw.Canvas) {
			c.StrokeLine2(Stroke(Mid, 1.5, Dashed), 0, 10, 20, 10)
			c.StrokeLine2(Stroke(Ink, 0, nil), 0, 10, 20, 10)
			c.FillPolygon(Accent, []vg.Point{{}, {X: 10}, {X: 10, Y: 10}})
			c.FillText(Bold(Lettering(Normal, Ink, AlignLeft, AlignMiddle)), vg.Point{X: 1, Y: 50}, "bold")
		}}.Figure()
	s := string(f.SVG)
	assert.Contains(t, s, `fill="none" class="s-mid" stroke="#8b8172" stroke-width="1.5" stroke-dasharray="5,3"`)
	assert.Contains(t, s, `class="f-accent" fill="#8f3d14"`)
	assert.NotContains(t, s, "s-ink", "a line without width is not drawn")
	assert.Contains(t, s, `font-weight="600" class="f-ink"`)
	assert.Contains(t, s, `share &lt; 5 % &amp; &#34;more&#34;</text>`)
	assert.Contains(t, s, `<title id="x-wide-title">a&lt;b &amp; &#34;c&#34;</title>`)
	assert.NotContains(t, s, "style=")
	require.True(t, strings.HasPrefix(s, "<svg"), "no prologue")
	require.NoError(t, xml.Unmarshal(f.SVG, new(struct{ XMLName xml.Name })), "well formed")
}

// Every tone has its own plain colour, which is how it is found again.
func TestTonesAreApart(t *testing.T) {
	seen := map[string]string{}
	for _, k := range tones {
		assert.Empty(t, seen[k.plain], "%s and %s", k.name, seen[k.plain])
		seen[k.plain] = k.name
	}
}

func TestTicksAreRound(t *testing.T) {
	labels := func(lo, hi, scale float64) (out []string) {
		for _, k := range (Rounds{Scale: scale}).Ticks(lo, hi) {
			out = append(out, k.Label)
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
		few := len((Rounds{Scale: 1, Few: true}).Ticks(0, hi))
		assert.True(t, few >= 2 && few <= 5, "%v gives %d where few are asked", hi, few)
	}
}

func TestAFigureKeepsItsUnit(t *testing.T) {
	lines := broken("right leg girth at 330 mm (13 in), over trousers", Normal, rowLabel, 2)
	assert.Equal(t, []string{"right leg girth at 330 mm", "(13 in), over trousers"}, lines)
}
