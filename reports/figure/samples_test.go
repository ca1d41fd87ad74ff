package figure

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

var nan = math.NaN()

func est(p, lo, hi float64, n int) stats.Estimate {
	return stats.Estimate{Point: p, Low: lo, High: hi, Level: 0.95, N: n, Method: "test"}
}

// drawnOnce are samples that tests only look at.
var drawnOnce = sync.OnceValue(samples)

// samples are one of each kind, filled with numbers made up for these tests.
func samples() map[string]page.Figure {
	return map[string]page.Figure{
		"run": RunChart(sampleRun(16)), "curves": CurvePanels(sampleCurves(9)),
		"forest": ForestChart(sampleForest(13)), "scorecard": ScorecardChart(sampleScorecard(12)),
		"zones": ZoneChart(sampleZones()), "ranges": RangeChart(sampleRanges(8)),
		"series": SeriesChart(sampleSeries(30)), "funnel": FunnelChart(sampleFunnel(24)),
		"form": FormChart(sampleForm(14)), "leg": LegChart(sampleLeg()),
		"intervals": IntervalChart(sampleIntervals(5)), "bars": BarChart(sampleBars(5)),
		"frontier": FrontierChart(sampleFrontier()), "calibration": CalibrationChart(sampleCalibration(10)), "decisions": DecisionChart(sampleDecisions()),
		"deviations": DeviationChart(sampleDeviations(5)),
		"factors":    FactorChart(sampleFactors(4)), "turns": TurnChart(sampleTurns(9)),
	}
}

func sampleCalibration(n int) Calibration {
	v := Calibration{ID: "calibration", Title: "Foreseen and remade", Desc: "Ten groups and a curve.", N: 1400}
	for i := range n {
		f := 0.02 + 0.024*float64(i)
		o := f + 0.02*math.Sin(float64(2*i))
		v.Groups = append(v.Groups, Foreseen{f, est(o, math.Max(0, o-0.04), o+0.06, 140)})
	}
	if n > 2 {
		v.Groups[1].Observed.High = 0.95 // goes on beyond the figure
	}
	for i := range 4 * n {
		f := 0.01 + 0.0065*float64(i)
		v.Curve = append(v.Curve, Foreseen{f, est(0.9*f+0.01, 0.8*f, f+0.03, 1400)})
	}
	return v
}

func sampleDeviations(n int) Deviations {
	v := Deviations{ID: "deviations", Title: "Ball girth, beside the instructor's", Desc: "Everybody's numbers.", Axis: "mm more than the instructor"}
	for i := range n {
		row := DeviationRow{Label: "measurer " + strconv.Itoa(i), Tolerance: 4 + float64(i%3), Mean: est(float64(i)-2, float64(i)-4, float64(i), 12)}
		for k := range 12 {
			row.Values = append(row.Values, float64(i)-2+4*math.Sin(float64(5*k+i)))
		}
		v.Rows = append(v.Rows, row)
	}
	if n > 2 {
		v.Rows[2].Values, v.Rows[2].Mean = nil, stats.Missing(0, "mean", "none")
	}
	return v
}

func sampleDecisions() Decisions {
	v := Decisions{ID: "decisions", Title: "What holding forms brings", Desc: "Five ways.", N: 1400}
	for i, label := range []string{"model", "count of faults", "the shop's rules in force", "the desk's verdict", "hold all"} {
		c := DecisionCurve{Label: label}
		for k := range 13 {
			t := 0.02 + 0.03*float64(k)
			b := 6*math.Exp(-8*t)/float64(i+1) - 0.3*float64(i)
			c.Threshold, c.Benefit = append(c.Threshold, t), append(c.Benefit, est(b, b-1, b+1, 1400))
		}
		v.Curves = append(v.Curves, c)
	}
	return v
}

func sampleFrontier() Frontier {
	f := Frontier{ID: "frontier", Title: "What so many call-backs a month can avoid", Desc: "Each point is the best set.", N: 1147, ChosenHeld: 6.8, ChosenAvoided: 2.6, Budget: 10}
	for i := range 9 {
		x := 1.2 + 1.7*float64(i)
		y := 4 * (1 - math.Exp(-x/6))
		f.Points = append(f.Points, FrontierPoint{x, y, y - 0.6 - 0.1*x, y + 0.6 + 0.1*x, "sides-copied, two-faults"})
	}
	return f
}

func sampleRun(n int) Run {
	r := Run{ID: "run", Title: "Remake share by shipping month", Desc: "One point a month.", Of: "orders shipped in the month", What: "of orders remade within 365 days", Centre: 0.081}
	for i := range n {
		m := RunMonth{Month: cohort.Month(2025*12 + 5 + i), Orders: 30 + i*7%23, Events: i % 6, Mature: i < n-3}
		m.Share = float64(m.Events) / float64(m.Orders)
		m.Low, m.High = 0, 0.22
		if i == 7 {
			m.Share, m.Signal = 0.26, true
		}
		if !m.Mature {
			m.Low, m.High = nan, nan
			m.Share = 0.02
		}
		r.Months = append(r.Months, m)
	}
	return r
}

func sampleCurves(n int) Curves {
	c := Curves{ID: "curves", Title: "Remakes by days since shipping", Desc: "One panel a quarter.", What: "remade, % of orders", Days: 365}
	curve := func(label string, k, end float64) Curve {
		cv := Curve{Label: label}
		for d := 20.0; d <= end; d += 15 {
			s := k * (1 - math.Exp(-d/80))
			cv.Day, cv.Share = append(cv.Day, d), append(cv.Share, s)
			cv.Low, cv.High = append(cv.Low, 0.6*s), append(cv.High, 1.5*s)
		}
		return cv
	}
	c.Reference = curve("all orders", 0.08, 365)
	for i := range n {
		end := math.Min(365, float64(n-i)*90)
		c.Panels = append(c.Panels, Panel{"2024 Q" + strconv.Itoa(i%4+1), 100 + i, curve("Kaplan-Meier", 0.06+0.01*float64(i%4), end), curve("returns as a competing end (Aalen-Johansen)", 0.055+0.01*float64(i%4), end)})
	}
	return c
}

func sampleForest(n int) Forest {
	f := Forest{ID: "forest", Title: "Remakes with and without each fault", Desc: "Differences.", Scale: 100, Axis: "more remakes per 100 orders with the fault than without"}
	for i := range n {
		fault := form.Faults[i%len(form.Faults)]
		p := 0.10 - 0.012*float64(i)
		row := ForestRow{Label: fault.Title, N: 200 - 10*i, Events: 30 - i, Crude: est(p, p-0.05, p+0.06, 900), Adjusted: est(p-0.02, p-0.06, p+0.03, 900)}
		if i == 3 {
			row.Crude, row.Adjusted = stats.Missing(4, "Newcombe", "needs 6 more remakes"), stats.Estimate{}
		}
		if i == 5 {
			row.Crude = est(0.3, -0.4, 0.9, 12)
		}
		f.Rows = append(f.Rows, row)
	}
	return f
}

func sampleScorecard(n int) Scorecard {
	c := Scorecard{ID: "scorecard", Title: "What each rule holds and catches", Desc: "Work and worth."}
	for i := range n {
		h, s := 0.05+0.02*float64(i%7), 0.08+0.05*float64(i%6)
		c.Rows = append(c.Rows, ScoreRow{Label: form.Faults[i%len(form.Faults)].Title, Held: 40 * i, Caught: 5 * i, HeldShare: est(h, h-0.01, h+0.01, 1200), Sensitivity: est(s, s-0.05, s+0.08, 99)})
	}
	return c
}

func sampleZones() Zones {
	z := Zones{ID: "zones", Title: "Where remade boots did not fit", Desc: "Complaints.", N: 71, NotNamed: 9}
	for i, zone := range form.Zones {
		for j, d := range []string{"tight", "loose", ""} {
			z.Counts = append(z.Counts, ZoneCount{Zone: zone, Direction: d, Side: []string{"left", "right", "both", ""}[(i+j)%4], Count: max(0, (i*5+j*3)%9-2*j)})
		}
	}
	return z
}

func sampleRanges(n int) Ranges {
	r := Ranges{ID: "ranges", Title: "The shop's numbers over people's", Desc: "Ranges.", Source: "ANSUR II (2012)"}
	names := []string{"foot length, men", "ball girth, men", "heel girth, men", "ankle girth, men", "foot length, women", "ball girth, women", "heel girth, women", "ball girth / foot length"}
	for i := range n {
		m := 250 + 10*float64(i%5)
		row := RangeRow{Label: names[i%len(names)], Unit: "mm", N: 800 - i,
			Published: Quantiles{m - 30, m - 20, m - 9, m, m + 9, m + 20, m + 30}, Shop: Quantiles{m - 36, m - 25, m - 8, m + 3, m + 12, m + 26, m + 50}}
		if i == 2 {
			row.Shop, row.N = Quantiles{nan, nan, nan, nan, nan, nan, nan}, 3
		}
		r.Rows = append(r.Rows, row)
	}
	return r
}

func sampleSeries(n int) Series {
	v := Series{ID: "series", Title: "Risk-adjusted CUSUM", Desc: "Watch.", Y: "sum of log-likelihood weights", X: "shipping months", Centre: nan, N: 1480, Of: "orders"}
	for i := range n {
		v.At = append(v.At, float64(i))
		v.Label = append(v.Label, cohort.Month(2024*12+i).String())
		v.Value = append(v.Value, math.Max(0, 2*math.Sin(float64(i)/4)+float64(i)/12))
		v.High = append(v.High, 3.5)
		v.Signal = append(v.Signal, v.Value[i] > 3.5)
	}
	return v
}

func sampleFunnel(n int) Funnel {
	f := Funnel{ID: "funnel", Title: "Remake share by measurer", Desc: "Funnel.", Y: "% of orders remade", X: "orders measured (mature)", Centre: 0.08}
	for k := 10.0; k <= 200; k += 5 {
		d := math.Sqrt(0.08 * 0.92 / k)
		f.Limits = append(f.Limits, FunnelLimit{k, math.Max(0, 0.08-1.96*d), 0.08 + 1.96*d, math.Max(0, 0.08-3.09*d), 0.08 + 3.09*d})
	}
	for i := range n {
		f.Points = append(f.Points, FunnelPoint{Label: "measurer " + strconv.Itoa(i), N: 20 + i*7, Events: i, Share: 0.03 + 0.013*float64(i*5%12), Outside: i%9 == 0, About: i == 4})
	}
	return f
}

func sampleForm(n int) FormNumbers {
	f := FormNumbers{ID: "form", Title: "The form's numbers", Desc: "Form F-1."}
	names := []string{"left foot length", "right foot breadth", "left ball girth", "right instep girth", "left leg girth at 279 mm (11 in)", "right leg girth at 330 mm (13 in), over trousers", "left heel girth"}
	for i := range n {
		f.Rows = append(f.Rows, FormNumber{names[i%len(names)], "10 1/4 in", "10 in", 260 + 7*float64(i%3), 255, 248, 266, 225, 290, i == 4})
	}
	return f
}

func sampleLeg() Leg {
	l := Leg{ID: "leg", Title: "The leg by height", Desc: "Form F-1.", Unit: "in", UnitMM: 25.4}
	for i, h := range []float64{7, 9, 11, 13, 15} {
		g := 250 + 140*math.Sin(float64(i+1)/3.2)
		l.Band = append(l.Band, LegBand{h * 25.4, g - 22, g + 24})
		l.Points = append(l.Points, LegPoint{form.Left, form.Bare, h * 25.4, g, g, false}, LegPoint{form.Right, form.Bare, h * 25.4, g + 4, g, false}, LegPoint{form.Left, form.Tucked, h * 25.4, g + 14, g, false})
	}
	l.Points[6].GirthMM, l.Points[6].Doubt = 330, true
	return l
}

// TestLook writes all samples as one page where LOOK names a folder, for
// looking at.
func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip("set LOOK=folder to write the sample figures there")
	}
	d := &page.Document{Title: "All figures", Lead: "Numbers made up for looking at the figures."}
	s := page.Section{ID: "all", Title: "Figures"}
	for _, k := range []string{"run", "curves", "forest", "scorecard", "zones", "ranges", "series", "funnel", "form", "leg", "intervals", "bars", "frontier", "calibration", "decisions", "factors", "turns"} {
		s.Blocks = append(s.Blocks, drawnOnce()[k])
	}
	d.Sections = []page.Section{s}
	f, err := os.Create(filepath.Join(dir, "figures.html"))
	require.NoError(t, err)
	require.NoError(t, page.HTML(f, d))
	require.NoError(t, f.Close())
}

func sampleIntervals(n int) Intervals {
	v := Intervals{ID: "intervals", Title: "Remake share by channel", Desc: "Shares.", Axis: "% of orders remade", Scale: 100, Decimals: 1, Zero: nan}
	for i := range n {
		v.Rows = append(v.Rows, IntervalRow{"channel " + strconv.Itoa(i), est(0.05+0.01*float64(i), 0.02+0.01*float64(i), 0.1+0.01*float64(i), 100*i)})
	}
	return v
}

func sampleFactors(n int) Factors {
	v := Factors{ID: "factors", Title: "If the silent had been remade more often", Desc: "Shares along a factor.", X: "times as often", Y: "remade, % of mature orders", At: []float64{0, 0.5, 1, 1.5, 2, 3}}
	for i := range n {
		l := FactorLine{Label: "channel " + strconv.Itoa(i), N: 1147 - 100*i}
		for _, f := range v.At {
			p := (0.07 + 0.02*float64(i)) * (1 + f*0.8)
			l.Shares = append(l.Shares, est(p, 0.8*p, 1.25*p, l.N))
		}
		v.Lines = append(v.Lines, l)
	}
	return v
}

func sampleTurns(n int) Turns {
	v := Turns{ID: "turns", Title: "Where conclusions turn", Desc: "Factors.", Axis: "times as often as like orders with word", Most: 10, Drawn: 3, Groups: []string{"home", "dealer", "shop"}}
	for i := range n {
		r := TurnRow{Label: "fault " + strconv.Itoa(i), Said: "goes with more remakes", To: "no clear link", At: 0.4 * float64(i*i), Groups: []float64{0.3 * float64(i), nan, 1.1 * float64(i)}}
		if i%3 == 2 {
			r.At, r.To = nan, ""
		}
		v.Rows = append(v.Rows, r)
	}
	return v
}

func sampleBars(n int) Bars {
	v := Bars{ID: "bars", Title: "Forms by channel", Desc: "Counts.", Axis: "forms"}
	for i := range n {
		v.Rows = append(v.Rows, Bar{Label: "channel " + strconv.Itoa(i), Value: float64(10 + i*i)})
	}
	return v
}
