package measurers

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// newcomers are the measurers with fewer than LeastOrders mature orders who have
// LeastForms orders, mature or not: the faults of all their forms are counted beside
// those of the others' mature ones, and nothing is said of remakes.
func (g gathered) newcomers(c *cohort.Cohort, about func(*tally, []int) Measurer) []Measurer {
	rows := make([][]int, len(c.Measurer.Levels))
	for i, k := range c.Measurer.Code {
		if k != 0 {
			rows[k] = append(rows[k], i)
		}
	}
	out := []Measurer{}
	for k, own := range rows {
		at := slices.IndexFunc(g.kept, func(t *tally) bool { return t.id == c.Measurer.Levels[k] })
		if len(own) < LeastForms || at >= 0 && g.kept[at].n >= LeastOrders {
			continue
		}
		t := &tally{id: c.Measurer.Levels[k], kind: c.MeasurerKind.At(own[0]), region: c.Region.At(own[0])}
		if at >= 0 {
			t = g.kept[at]
		}
		r := about(t, own)
		why := fmt.Sprintf("too few to tell: %d mature orders, %d needed", t.n, LeastOrders)
		few := stats.Missing(t.n, "not compared", why)
		r.Expected, r.Share, r.Ratio, r.Verdict = few, few, few, TooFewToTell
		r.Words = fmt.Sprintf("%d orders so far, %d of them out long enough to tell: of remakes nothing can be said before %d.", len(own), t.n, LeastOrders)
		for f := range form.Faults {
			if fr, ok := g.newcomersFault(c, f, own); ok {
				r.Faults = append(r.Faults, fr)
			}
		}
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b Measurer) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// newcomersFault counts a fault on the forms of own, beside the others' share.
func (g gathered) newcomersFault(c *cohort.Cohort, f int, own []int) (fr FaultRate, ok bool) {
	count := func(rows []int) (by counts, with []string) {
		by = make(counts, len(shaftClasses)+1)
		for _, i := range rows {
			at := &by[shaftClass(c.ShaftMM[i])]
			switch c.Cut[f][i] {
			case form.With:
				at[0]++
				at[1]++
				with = append(with, c.OrderID[i])
			case form.Without:
				at[1]++
			}
		}
		return by, with
	}
	mine, with := count(own)
	by := []counts{mine}
	for _, t := range g.kept {
		if len(t.rows) > 0 && c.Measurer.Code[t.rows[0]] != c.Measurer.Code[own[0]] {
			theirs, _ := count(t.rows)
			by = append(by, theirs)
		}
	}
	x, n := mine.total()
	if n == 0 {
		return fr, false
	}
	slices.Reverse(with)
	nan := stats.Value(math.NaN())
	return FaultRate{Fault: form.Faults[f].ID, AtRisk: n, With: x, Rate: remakes.Rate(x, n), Expected: expectedShare(by, 0), Orders: with, JudgedOrders: remakes.Behind(c, own, func(i int) bool { return c.Cut[f][i] == form.With || c.Cut[f][i] == form.Without }),
		Share: stats.Missing(n, "hierarchical model on a grid (posterior median)", fmt.Sprintf("too few to tell: %d forms", n)), Funnel: Funnel{nan, nan, nan, nan}, QValue: nan}, true
}
