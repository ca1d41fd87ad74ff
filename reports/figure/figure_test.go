package figure

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
	"lastroom/reports/translation"
)

// A drawn is what a test sees of an SVG.
type drawn struct {
	w, h        float64
	role        string
	labelled    string
	title, desc string
	ids         []string
	texts       []lettered
	all         string
}

type lettered struct {
	s              string
	x0, y0, x1, y1 float64
}

func read(t *testing.T, svg []byte) drawn {
	t.Helper()
	d := drawn{all: string(svg)}
	dec := xml.NewDecoder(strings.NewReader(string(svg)))
	var stack []xml.StartElement
	for {
		tok, err := dec.Token()
		if tok == nil {
			require.EqualError(t, err, "EOF", "the SVG is not well formed")
			return d
		}
		switch tok := tok.(type) {
		case xml.ProcInst:
			t.Fatal("the SVG has a prologue")
		case xml.StartElement:
			stack = append(stack, tok.Copy())
			if id := attr(tok, "id"); id != "" {
				d.ids = append(d.ids, id)
			}
			if tok.Name.Local == "svg" {
				d.role, d.labelled = attr(tok, "role"), attr(tok, "aria-labelledby")
				_, err := fmt.Sscan(strings.TrimPrefix(attr(tok, "viewBox"), "0 0 "), &d.w, &d.h)
				require.NoError(t, err)
			}
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			d.take(stack, string(tok))
		}
	}
}

func (d *drawn) take(stack []xml.StartElement, s string) {
	if len(stack) == 0 || strings.TrimSpace(s) == "" {
		return
	}
	switch e := stack[len(stack)-1]; e.Name.Local {
	case "title":
		d.title += s
	case "desc":
		d.desc += s
	case "text":
		x, y := number(e, "x"), d.h+number(e, "y") // the drawing is flipped, and each text back
		x -= map[string]float64{"": 0, "middle": 0.5, "end": 1}[attr(e, "text-anchor")] * number(e, "textLength")
		d.texts = append(d.texts, lettered{s, x, y - 0.72*number(e, "font-size"), x + number(e, "textLength"), y + 0.2*number(e, "font-size")})
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func number(e xml.StartElement, name string) float64 {
	v, _ := strconv.ParseFloat(attr(e, name), 64)
	return v
}

// check is what every drawing must hold: well formed, titled, nothing that is
// not a number, no text cut off at an edge and none over another.
func check(t *testing.T, f page.Figure) {
	t.Helper()
	seen := map[string]bool{}
	for _, svg := range [][]byte{f.SVG, f.Narrow} {
		d := read(t, svg)
		assert.Equal(t, "img", d.role)
		assert.NotEmpty(t, d.title)
		assert.NotEmpty(t, d.desc)
		require.Len(t, d.ids, 2)
		assert.Equal(t, d.ids[0]+" "+d.ids[1], d.labelled)
		for _, id := range d.ids {
			assert.False(t, seen[id], "id %s stands twice", id)
			seen[id] = true
		}
		for _, bad := range []string{"NaN", "Inf", "<script", "style=", "http://www.w3.org/1999", "onload"} {
			assert.NotContains(t, d.all, bad)
		}
		for i, a := range d.texts {
			assert.True(t, a.x0 >= -0.5 && a.x1 <= d.w+0.5 && a.y0 >= -0.5 && a.y1 <= d.h+0.5, "%s: %q is cut at an edge of %v x %v: %v", f.ID, a.s, d.w, d.h, a)
			for _, b := range d.texts[:i] {
				over := math.Min(math.Min(a.x1, b.x1)-math.Max(a.x0, b.x0), math.Min(a.y1, b.y1)-math.Max(a.y0, b.y0))
				assert.LessOrEqual(t, over, 0.6, "%s at width %v: %q lies over %q", f.ID, d.w, a.s, b.s)
			}
		}
	}
	require.NoError(t, page.SVG(io.Discard, &f))
	require.NotEmpty(t, f.Data.Columns)
	assert.NotEmpty(t, f.Data.Caption)
}

func TestOneRemakeWithoutAZone(t *testing.T) {
	z := sampleZones()
	for n, want := range map[int]string{1: "1 remake names no zone.", 9: "9 remakes name no zone."} {
		z.NotNamed = n
		assert.Contains(t, zoneTable(z).Notes, want)
	}
}

func TestEveryKindIsSound(t *testing.T) {
	for name, f := range drawnOnce() {
		t.Run(name, func(t *testing.T) {
			check(t, f)
			assert.NotEmpty(t, f.Data.Rows)
		})
	}
}

// In German no text is cut off or lies over another either.
func TestEveryKindIsSoundInGerman(t *testing.T) {
	german, err := translation.Of("de")
	require.NoError(t, err)
	for name, f := range drawnOnce() {
		t.Run(name, func(t *testing.T) {
			f.SVG, _ = german.Page(f.SVG)
			f.Narrow, _ = german.Page(f.Narrow)
			check(t, f)
		})
	}
}

func TestTheCountIsInTheFigure(t *testing.T) {
	for name, want := range map[string]string{
		"run": ">43</text>", "curves": "n 108", "forest": "30 of 200", "scorecard": "440 held", "zones": "n 71",
		"ranges": "n 800", "series": "n 1,480", "leg": "n 15 numbers",
	} {
		f := drawnOnce()[name]
		assert.Contains(t, string(f.SVG), want, name)
		assert.Contains(t, string(f.Narrow), want, name)
	}
}

func TestEmptyIsSaidInWords(t *testing.T) {
	for _, f := range []page.Figure{
		RunChart(Run{ID: "a", Title: "t"}), CurvePanels(Curves{ID: "b", Title: "t"}), ForestChart(Forest{ID: "c", Title: "t"}),
		ScorecardChart(Scorecard{ID: "d", Title: "t"}), ZoneChart(Zones{ID: "e", Title: "t"}), RangeChart(Ranges{ID: "f", Title: "t"}),
		SeriesChart(Series{ID: "g", Title: "t"}), FunnelChart(Funnel{ID: "h", Title: "t"}), FormChart(FormNumbers{ID: "i", Title: "t"}), LegChart(Leg{ID: "j", Title: "t"}),
		IntervalChart(Intervals{ID: "k", Title: "t"}), BarChart(Bars{ID: "l", Title: "t"}), FactorChart(Factors{ID: "m", Title: "t"}), TurnChart(Turns{ID: "n", Title: "t"}), DeviationChart(Deviations{ID: "o", Title: "t"}),
	} {
		check(t, f)
		assert.NotEmpty(t, read(t, f.SVG).texts)
		assert.NotEmpty(t, f.Desc)
	}
}

func TestOneOfEach(t *testing.T) {
	for _, f := range []page.Figure{
		RunChart(sampleRun(1)), CurvePanels(sampleCurves(1)), ForestChart(sampleForest(1)), ScorecardChart(sampleScorecard(1)),
		RangeChart(sampleRanges(1)), SeriesChart(sampleSeries(1)), FunnelChart(sampleFunnel(1)), FormChart(sampleForm(1)),
		LegChart(Leg{ID: "one", Title: "t", Desc: "d", Unit: "in", UnitMM: 25.4, Points: []LegPoint{{form.Left, form.Bare, 200, 300, nan, false}}}),
		ZoneChart(Zones{ID: "z", Title: "t", Desc: "d", N: 1, Counts: []ZoneCount{{Zone: form.ZoneCalf, Direction: "tight", Count: 1}}}),
	} {
		check(t, f)
	}
}

func TestManyOfEach(t *testing.T) {
	for _, f := range []page.Figure{
		RunChart(sampleRun(60)), CurvePanels(sampleCurves(40)), ForestChart(sampleForest(40)), ScorecardChart(sampleScorecard(40)),
		RangeChart(sampleRanges(40)), SeriesChart(sampleSeries(400)), FunnelChart(sampleFunnel(200)), FormChart(sampleForm(60)), IntervalChart(sampleIntervals(40)), BarChart(sampleBars(40)), FactorChart(sampleFactors(12)), TurnChart(sampleTurns(40)), DeviationChart(sampleDeviations(15)),
	} {
		check(t, f)
	}
}

func TestLongLabelsKeepTheirPlace(t *testing.T) {
	long := strings.Repeat("a name that goes on & on <b>with</b> markup ", 6)
	f := sampleForest(4)
	f.Title, f.Rows[0].Label, f.Rows[2].Label = long, long, strings.Repeat("x", 300)
	check(t, ForestChart(f))
	z := sampleZones()
	z.Counts = append(z.Counts, ZoneCount{Zone: form.Zone(long), Direction: long, Count: 4})
	check(t, ZoneChart(z))
	fu := sampleFunnel(12)
	for i := range fu.Points {
		fu.Points[i].Label, fu.Points[i].Outside = long, true
	}
	check(t, FunnelChart(fu))
	fo := sampleForm(3)
	fo.Rows[1].Label, fo.Rows[1].Written = long, long
	check(t, FormChart(fo))
	c := sampleCurves(2)
	c.Panels[0].Label = long
	check(t, CurvePanels(c))
}

// What can't be given (NaN), and what no one would give (infinite limits),
// never reaches the drawing.
func TestNotANumberIsNotDrawn(t *testing.T) {
	inf := math.Inf(1)
	r := sampleRun(4)
	for i := range r.Months {
		r.Months[i].Share, r.Months[i].Low, r.Months[i].High = nan, nan, inf
	}
	r.Centre = nan
	check(t, RunChart(r))
	f := sampleForest(3)
	f.Rows[0].Crude, f.Rows[1].Crude, f.Rows[2].Crude = est(nan, nan, nan, 0), est(0.1, -inf, inf, 4), stats.Missing(0, "m", "w")
	f.Rows[1].Adjusted = est(inf, nan, nan, 4)
	check(t, ForestChart(f))
	v := sampleSeries(5)
	v.Value = []float64{nan, inf, nan, 1, nan}
	check(t, SeriesChart(v))
	v.Value = []float64{nan, nan, nan, nan, nan}
	v.High = nil
	check(t, SeriesChart(v))
	l := sampleLeg()
	l.Points[0].GirthMM, l.Points[1].HeightMM, l.Band[0].Low = nan, inf, nan
	check(t, LegChart(l))
	n := FormNumbers{ID: "n", Title: "t", Desc: "d", Rows: []FormNumber{{"left ball", "?", "", nan, nan, nan, nan, nan, nan, true}}}
	check(t, FormChart(n))
	q := Ranges{ID: "q", Title: "t", Desc: "d", Rows: []RangeRow{{Label: "x", Published: Quantiles{nan, nan, nan, nan, nan, nan, nan}}}}
	check(t, RangeChart(q))
	d := sampleDeviations(3)
	d.Rows[0].Values[0], d.Rows[0].Values[1], d.Rows[1].Mean = nan, inf, est(1, -inf, inf, 3)
	check(t, DeviationChart(d))
	fu := sampleFunnel(3)
	fu.Points[0].Share, fu.Limits[0].High998, fu.Centre = nan, nan, nan
	check(t, FunnelChart(fu))
}

// A curve of thousands of tiny steps is drawn with as many as can be seen; its
// table keeps its own milestones.
func TestManyStepsStaySmall(t *testing.T) {
	c := sampleCurves(1)
	p := &c.Panels[0]
	p.Main = Curve{Label: "Kaplan-Meier"}
	for i := range 20000 {
		d := 365 * float64(i) / 20000
		p.Main.Day, p.Main.Share = append(p.Main.Day, d), append(p.Main.Share, d/4000)
		p.Main.Low, p.Main.High = append(p.Main.Low, d/5000), append(p.Main.High, d/3000)
	}
	f := CurvePanels(c)
	check(t, f)
	assert.Less(t, len(f.SVG), 40_000)
	assert.InDelta(t, 2+0.09125/(0.1/200), len(p.Main.thin(0.1).Day), 2, "a step every two hundredth of the scale, and both ends")
}

func TestSameInputSameBytes(t *testing.T) {
	a, b := drawnOnce(), samples()
	for k := range a {
		assert.Equal(t, string(a[k].SVG), string(b[k].SVG), k)
	}
}

func FuzzRunChart(f *testing.F) {
	f.Add(0.1, 0.2, 0.3, 12, uint8(3))
	f.Add(math.NaN(), math.Inf(1), -1.0, -4, uint8(0))
	f.Fuzz(func(t *testing.T, share, low, high float64, orders int, n uint8) {
		r := Run{ID: "f", Title: "t", Desc: "d", Centre: low}
		for i := range n {
			r.Months = append(r.Months, RunMonth{Month: cohort.Month(24000 + int(i)), Orders: orders, Share: share, Low: low, High: high, Mature: i%2 == 0})
		}
		fig := RunChart(r)
		assert.NotContains(t, string(fig.SVG), "NaN")
		assert.NotContains(t, string(fig.SVG), "Inf")
	})
}

// BenchmarkReviewFigures draws the six figures of a review, both widths.
func BenchmarkReviewFigures(b *testing.B) {
	for b.Loop() {
		RunChart(sampleRun(36))
		CurvePanels(sampleCurves(12))
		ForestChart(sampleForest(14))
		ScorecardChart(sampleScorecard(16))
		ZoneChart(sampleZones())
		RangeChart(sampleRanges(18))
	}
}

// An interval that goes on beyond its figure ends in an arrow, and only such a one.
func TestClippedIntervalsHaveArrows(t *testing.T) {
	arrow := regexp.MustCompile(`d="M[^"LZ]+L[^"LZ]+L[^"LZ]+Z"`) // three corners
	arrows := func(f page.Figure) int { return len(arrow.FindAll(f.SVG, -1)) }
	calibration := sampleCalibration(8)
	assert.Equal(t, 1, arrows(CalibrationChart(calibration)))
	calibration.Groups[1].Observed.High = calibration.Groups[1].Observed.Point + 0.01
	assert.Zero(t, arrows(CalibrationChart(calibration)))

	decisions := sampleDecisions()
	assert.Zero(t, arrows(DecisionChart(decisions)))
	for k := range decisions.Curves[0].Benefit {
		decisions.Curves[0].Benefit[k].High += 100
		decisions.Curves[0].Benefit[k].Low -= 100
	}
	assert.Equal(t, 2*3, arrows(DecisionChart(decisions)), "three above and three below, of 13 places")
}
