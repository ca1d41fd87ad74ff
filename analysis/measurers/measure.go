package measurers

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const level = stats.DefaultLevel

// Measure makes the table of measurers on mature orders.
func Measure(c *cohort.Cohort, o Options) Document {
	m := remakes.MatureAfter(c, o.MatureDays)
	expected := remakes.ExpectedByMix(c, m)
	g := gather(c, m, expected)
	d := Document{AsOf: c.AsOf, Maturity: m, Measurers: []Measurer{}, Warnings: []string{
		"A measurer who notes faults honestly shows more of them; a fault rate is no mark.",
		"Rates are shrunken towards all measurers' (the headline), limits are exact, nobody is ranked.",
	}}
	if expected.Why != "" {
		d.Warnings = append(d.Warnings, "not adjusted for the orders' mix: "+expected.Why)
	}
	var x, n []int
	for _, k := range g.kept {
		x, n = append(x, k.x), append(n, k.n)
		d.MatureOrders, d.Remade = d.MatureOrders+k.n, d.Remade+k.x
		if k.n < LeastOrders {
			d.TooFew++
		}
	}
	d.Overall = remakes.Rate(d.Remade, d.MatureOrders)
	shrink := newShrink(x, n)
	tem := errors(o.Repeats)
	for _, k := range g.kept {
		if k.n >= LeastOrders {
			d.Measurers = append(d.Measurers, k.row(d, shrink))
		}
	}
	g.faults(c, &d)
	qValues(d.Measurers)
	for k := range d.Measurers {
		r := &d.Measurers[k]
		r.TEM = tem[r.ID]
		if r.TEM == nil {
			r.TEM = []TEM{}
		}
		r.Words = r.say(d)
	}
	return d
}

// A tally is one measurer's orders.
type tally struct {
	id, region string
	rows       []int
	n, x       int
	expected   float64
	remade     []string
}

type gathered struct{ kept []*tally }

func gather(c *cohort.Cohort, m remakes.Maturity, e remakes.Expectation) gathered {
	by := make([]*tally, len(c.Measurer.Levels))
	for i := range c.Shipped {
		k := c.Measurer.Code[i]
		if k == 0 || !m.Is(c, i) {
			continue
		}
		t := by[k]
		if t == nil {
			t = &tally{id: c.Measurer.Levels[k]}
			by[k] = t
		}
		t.region = c.Region.At(i)
		t.rows = append(t.rows, i)
		t.n++
		t.expected += e.ByNow[i]
		if remakes.Event(c, i) {
			t.x++
			t.remade = append(t.remade, c.OrderID[i])
		}
	}
	by = slices.DeleteFunc(by, func(t *tally) bool { return t == nil })
	slices.SortFunc(by, func(a, b *tally) int {
		if a.id < b.id {
			return -1
		}
		return 1
	})
	// Expected remakes add up to the observed ones, so that 1 means "as all".
	var x, sum float64
	for _, t := range by {
		x, sum = x+float64(t.x), sum+t.expected
	}
	for _, t := range by {
		if sum > 0 {
			t.expected *= x / sum
		}
	}
	return gathered{by}
}

func (t *tally) row(d Document, s shrink) Measurer {
	r := Measurer{
		ID: t.id, Region: t.region, Orders: t.n, Remade: t.x, Expected: stats.Value(t.expected),
		Headline: s.rate(t.x, t.n), Rate: remakes.Rate(t.x, t.n), Ratio: observedOverExpected(t.x, t.n, t.expected),
		Faults: []FaultRate{}, RemadeOrders: t.remade,
	}
	target := t.expected / float64(t.n)
	r.Funnel = funnel(target, t.n)
	r.Outside = outside(r.Funnel, t.x, t.n)
	r.PValue = tail(t.x, t.n, target)
	slices.Reverse(r.RemadeOrders)
	return r
}

// observedOverExpected is O/E with Garwood's exact Poisson limits; the
// expectation is taken as known.
func observedOverExpected(x, n int, expected float64) stats.Estimate {
	const method = "observed over expected by mix, exact Poisson interval"
	if !(expected > 0) {
		return stats.Missing(n, method, "no remake is expected of these orders")
	}
	lo, hi := 0.0, distuv.ChiSquared{K: 2*float64(x) + 2}.Quantile((1+level)/2)/2
	if x > 0 {
		lo = distuv.ChiSquared{K: 2 * float64(x)}.Quantile((1-level)/2) / 2
	}
	e := stats.Estimate{Point: float64(x) / expected, Low: lo / expected, High: hi / expected, Level: level, N: n, Method: method}
	if expected < remakes.LeastEvents {
		e = e.Warn(fmt.Sprintf("only %.1f remakes expected: read the interval, not the ratio", expected))
	}
	return e
}

func funnel(target float64, n int) Funnel {
	at := func(q float64) stats.Value { return stats.Value(stats.FunnelLimit(target, n, q)) }
	return Funnel{at(0.001), at(0.025), at(0.975), at(0.999)}
}

func outside(f Funnel, x, n int) string {
	rate := stats.Value(float64(x) / float64(n))
	switch {
	case rate > f.High998:
		return "above 99.8"
	case rate > f.High95:
		return "above 95"
	case rate < f.Low998:
		return "below 99.8"
	case rate < f.Low95:
		return "below 95"
	}
	return ""
}

// tail is the two-sided mid-p of the binomial: twice the smaller tail, half of
// the observed count's chance in each.
func tail(x, n int, p float64) stats.Value {
	if !(p > 0 && p < 1) {
		return stats.Value(math.NaN())
	}
	half := stats.BinomialProb(x, n, p) / 2
	low := stats.BinomialCDF(x-1, n, p) + half
	return stats.Value(math.Min(1, 2*math.Min(low, 1-low)))
}

func qValues(ms []Measurer) {
	p := make([]float64, len(ms))
	for k := range ms {
		p[k] = float64(ms[k].PValue)
	}
	for k, q := range stats.BenjaminiHochberg(p) {
		ms[k].QValue = stats.Value(q)
	}
}

// A shrink is the spread of true rates among measurers.
type shrink struct {
	fit stats.BetaBinomial
	err error
}

func newShrink(x, n []int) shrink {
	f, err := stats.BetaBinomialML(x, n)
	return shrink{f, err}
}

func (s shrink) rate(x, n int) stats.Estimate {
	if s.err != nil {
		return stats.Missing(n, "empirical Bayes, beta-binomial", "no spread among measurers can be read: "+s.err.Error())
	}
	return s.fit.Rate(x, n, level)
}

// faults adds the fault rates of every measurer that has a row.
func (g gathered) faults(c *cohort.Cohort, d *Document) {
	for f := range form.Faults {
		var x, n []int
		for _, t := range g.kept {
			with, known := 0, 0
			for _, i := range t.rows {
				switch c.Cut[f][i] {
				case form.With:
					with++
					known++
				case form.Without:
					known++
				}
			}
			x, n = append(x, with), append(n, known)
		}
		g.fault(f, x, n, d)
	}
}

func (g gathered) fault(f int, x, n []int, d *Document) {
	s := newShrink(x, n)
	target := stats.PCenter(x, n)
	row, p := 0, []float64{}
	var at []*FaultRate
	for k, t := range g.kept {
		if t.n < LeastOrders {
			continue
		}
		r := &d.Measurers[row]
		row++
		if n[k] < LeastOrders {
			continue
		}
		fr := FaultRate{Fault: form.Faults[f].ID, AtRisk: n[k], With: x[k], Headline: s.rate(x[k], n[k]), Rate: remakes.Rate(x[k], n[k])}
		fr.Funnel = funnel(target, n[k])
		fr.Outside = outside(fr.Funnel, x[k], n[k])
		r.Faults = append(r.Faults, fr)
		at, p = append(at, &r.Faults[len(r.Faults)-1]), append(p, float64(tail(x[k], n[k], target)))
	}
	for k, q := range stats.BenjaminiHochberg(p) {
		at[k].QValue = stats.Value(q)
	}
}

// say puts a row in plain words.
func (r Measurer) say(d Document) string {
	head := fmt.Sprintf("%d of %d orders remade, %.1f expected of such orders", r.Remade, r.Orders, float64(r.Expected))
	switch r.Outside {
	case "above 99.8":
		return head + ": more than chance explains (under 1 in 1,000); look at the forms together."
	case "above 95":
		if r.QValue <= remakes.FindingLevel {
			return head + ": more than expected; worth a look at the forms."
		}
		return head + ": somewhat more than expected, as one in forty would show by chance."
	case "below 99.8", "below 95":
		return head + ": fewer than expected; ask what is done there."
	}
	return head + ": as expected within chance."
}
