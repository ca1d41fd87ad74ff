package remakes

import (
	"context"
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// Faults makes the fault table on mature orders, by the form cut from. With
// o.Replicates above 0 it also fits the risk model and gives adjusted effects.
// The context stops the bootstrap early: what it has not computed is then
// missing, and says so.
func Faults(ctx context.Context, c *cohort.Cohort, o Options) FaultTable {
	m := MatureAfter(c, o.MatureDays)
	rows := matureRows(c, m)
	d := FaultTable{
		AsOf: c.AsOf, Maturity: m, MatureOrders: len(rows),
		RemadeNoDay: m.NoDay, Answered: m.Answered, Excluded: c.Excluded, Limits: limits(c),
		AttributableToAll: stats.Missing(len(rows), adjustedMethod, notAsked),
	}
	answered := 0
	for _, i := range rows {
		event := Event(c, i)
		if event {
			d.Remade++
		}
		if event || c.Answered[i] {
			answered++
		}
	}
	d.RemakeShare = Rate(d.Remade, d.MatureOrders)
	d.ShareOfAnswered = Rate(d.Remade, answered)
	strata := strataOf(c)
	for f := range form.Faults {
		d.Faults = append(d.Faults, crude(c, rows, strata, form.Faults[f], c.Cut[f], c.First[f]))
	}
	d.AnyFault = crude(c, rows, strata, anyFault, anyOf(c.Cut, c.Len()), anyOf(c.First, c.Len()))
	d.across(func(f *FaultFinding) *stats.Value { return &f.PValue }, func(f *FaultFinding) *stats.Value { return &f.QValue })
	d.across(func(f *FaultFinding) *stats.Value { return &f.ZoneCheck.PValue }, func(f *FaultFinding) *stats.Value { return &f.ZoneCheck.QValue })
	adjust(ctx, c, m, o, &d)
	for f := range d.Faults {
		d.Faults[f].say()
	}
	d.AnyFault.say()
	return d
}

// across sets the q values of a family of p values, one a fault. "Any fault" is
// no member: it would be counted twice.
func (d *FaultTable) across(p, q func(*FaultFinding) *stats.Value) {
	values := make([]float64, len(d.Faults))
	for f := range d.Faults {
		values[f] = float64(*p(&d.Faults[f]))
	}
	for f, v := range stats.BenjaminiHochberg(values) {
		*q(&d.Faults[f]) = stats.Value(v)
	}
}

// anyFault stands for "at least one noted or counted fault".
var anyFault = form.Fault{ID: "any-fault", Title: "any fault", Has: "it has at least one noted or counted fault", Kind: form.Counted}

// anyOf is With where any noted or counted fault is there, Without where all
// that can be there are known not to be, otherwise Unknown.
func anyOf(states cohort.FormFaults, n int) []form.State {
	s := make([]form.State, n)
	for i := range s {
		s[i] = form.Without
		for f, fault := range form.Faults {
			if fault.Kind == form.Evident {
				continue
			}
			if x := states[f][i]; x == form.With {
				s[i] = form.With
				break
			} else if x == form.Unknown {
				s[i] = form.Unknown
			}
		}
	}
	return s
}

func matureRows(c *cohort.Cohort, m Maturity) []int {
	rows := make([]int, 0, c.Len())
	for i := range c.Shipped {
		if m.Is(c, i) {
			rows = append(rows, i)
		}
	}
	return rows
}

// strataOf numbers the strata: every distinct shaft height, never banded, by
// channel as written. A height that is not known is a stratum of its own.
func strataOf(c *cohort.Cohort) []int32 {
	type key struct {
		mm      float64
		channel int32
	}
	seen := map[key]int32{}
	strata := make([]int32, c.Len())
	for i := range strata {
		k := key{c.ShaftMM[i], c.Channel.Code[i]}
		if math.IsNaN(k.mm) {
			k.mm = -1
		}
		s, ok := seen[k]
		if !ok {
			s = int32(len(seen))
			seen[k] = s
		}
		strata[i] = s
	}
	return strata
}

func crude(c *cohort.Cohort, rows []int, strata []int32, fault form.Fault, cut, first []form.State) FaultFinding {
	f := FaultFinding{Fault: fault.ID, Title: fault.Title, Evident: fault.Kind == form.Evident, Warnings: []string{}}
	t := count(c, rows, strata, cut)
	f.AtRisk = t.all.N() + t.unknown
	f.With, f.Without, f.Unknown = t.all.N1(), t.all.N0(), t.unknown
	f.RemadeWith, f.RemadeWithout, f.RemadeUnknown = t.all.A, t.all.C, t.unknownRemade
	f.RateWith, f.RateWithout = Rate(t.all.A, t.all.N1()), Rate(t.all.C, t.all.N0())
	f.RiskRatio, f.RiskDifference = Ratio(t.all), Difference(t.all)
	f.StratifiedOR, f.PValue = stratified(t)
	f.QValue = stats.Value(math.NaN())
	f.MeasuringOnly = compared(t.narrow)
	f.UnknownAmongRemade = Rate(t.unknownRemade, t.all.A+t.all.C+t.unknownRemade)
	f.UnknownAmongKept = Rate(t.unknown-t.unknownRemade, t.all.B+t.all.D+t.unknown-t.unknownRemade)
	f.Levels = levels(c, rows, cut, first)
	f.ZoneCheck = zoneCheck(c, rows, fault, cut)
	f.Orders = ordersOf(c, rows, func(i int) bool { return cut[i] == form.With && Event(c, i) })
	f.WithOrders = Behind(c, rows, func(i int) bool { return cut[i] == form.With })
	f.UnknownOrders = Behind(c, rows, func(i int) bool { return cut[i] == form.Unknown })
	f.AtRiskOrders = Behind(c, rows, func(i int) bool { return cut[i] != form.NotAtRisk })
	f.WithoutOrders = Behind(c, rows, func(i int) bool { return cut[i] == form.Without && Event(c, i) })
	f.withoutModel(notAsked)
	if w := lookedBehindRemakes(t); w != "" {
		f.Warnings = append(f.Warnings, w)
	}
	return f
}

const notAsked = "not asked for in this run"

// withoutModel sets the adjusted fields to missing.
func (f *FaultFinding) withoutModel(why string) {
	n := f.With + f.Without
	f.AdjustedRD = stats.Missing(n, adjustedMethod, why)
	f.AdjustedRR = stats.Missing(n, adjustedMethod, why)
	f.Attributable = stats.Missing(n, adjustedMethod, why)
	f.EValue = stats.Missing(n, "E-value", why)
	f.AdjustedP, f.AdjustedQ = stats.Value(math.NaN()), stats.Value(math.NaN())
}

// tally is what one fault's table is made from.
type tally struct {
	all, narrow            stats.TwoByTwo // narrow: without causes that measuring can't answer for
	unknown, unknownRemade int
	strata                 []stats.TwoByTwo
}

func count(c *cohort.Cohort, rows []int, strata []int32, cut []form.State) tally {
	var t tally
	other := otherCause(c.Cause)
	for _, i := range rows {
		event := Event(c, i)
		switch cut[i] {
		case form.With, form.Without:
			with := cut[i] == form.With
			for int(strata[i]) >= len(t.strata) {
				t.strata = append(t.strata, stats.TwoByTwo{})
			}
			t.strata[strata[i]].Add(with, event)
			t.all.Add(with, event)
			t.narrow.Add(with, event && !other[c.Cause.Code[i]])
		case form.Unknown:
			t.unknown++
			if event {
				t.unknownRemade++
			}
		}
	}
	return t
}

// otherCause marks the causes that are no fault of measuring.
func otherCause(f cohort.Factor) []bool {
	other := make([]bool, len(f.Levels))
	for k, l := range f.Levels {
		switch l {
		case "making", "material", "pattern", "preference":
			other[k] = true
		}
	}
	return other
}

// stratified is the Mantel-Haenszel odds ratio and the p value of the
// Cochran-Mantel-Haenszel test (uncorrected) in the same strata.
func stratified(t tally) (stats.Estimate, stats.Value) {
	const method = "Mantel-Haenszel odds ratio by shaft height and channel (Robins-Breslow-Greenland)"
	p := stats.Value(math.NaN())
	if tooFewForDifference(t.all) == "" {
		p = stats.Value(stats.CochranMantelHaenszel(t.strata, false).P)
	}
	if why := tooFewForRatio(t.all); why != "" {
		return stats.Missing(t.all.N(), method, why), p
	}
	e := stats.MantelHaenszelOddsRatio(t.strata, level)
	e.Method = method
	if tarone := stats.Tarone(t.strata); tarone.P < 0.05 {
		e = e.Warn("the odds ratio differs between shaft heights or channels (Tarone's test); one figure for all hides that")
	}
	return e, p
}

// leastGap is the difference of the shares not judged, behind remakes and not,
// from which on it can turn a finding (judgement).
const leastGap = 0.05

// lookedBehindRemakes warns where the share of forms on which the fault could
// not be judged differs between remade and kept orders.
func lookedBehindRemakes(t tally) string {
	if t.unknown == 0 {
		return ""
	}
	u := stats.TwoByTwo{
		A: t.unknownRemade, B: t.all.A + t.all.C,
		C: t.unknown - t.unknownRemade, D: t.all.B + t.all.D,
	}
	if u.N1() < LeastOrders || u.N0() < LeastOrders {
		return ""
	}
	behind, others := float64(u.A)/float64(u.N1()), float64(u.C)/float64(u.N0())
	if math.Abs(behind-others) < leastGap || !(stats.FisherExact(u).MidP < 0.01) {
		return ""
	}
	may := "it may have been looked for only behind remakes, and then every fault looks guilty"
	if behind > others {
		may = "what was seen behind remakes may have gone unnoted, and then a fault looks harmless"
	}
	return fmt.Sprintf("not judged on %.0f %% of forms behind remakes but %.0f %% of the others: %s", 100*behind, 100*others, may)
}

// levels are the three levels of exposure, each against clean.
func levels(c *cohort.Cohort, rows []int, cut, first []form.State) []Level {
	var n, x [3]int
	for _, i := range rows {
		l := exposure(cut[i], first[i])
		if l < 0 {
			continue
		}
		n[l]++
		if Event(c, i) {
			x[l]++
		}
	}
	names := [3]string{"clean", "mended", "cut with fault"}
	ls := make([]Level, 3)
	for l := range ls {
		of := func(i int) bool { return exposure(cut[i], first[i]) == l }
		ls[l] = Level{Level: names[l], Orders: n[l], Remade: x[l], Rate: Rate(x[l], n[l]), OrderIDs: Behind(c, rows, of),
			RemadeIDs: Behind(c, rows, func(i int) bool { return of(i) && Event(c, i) })}
		if l == 0 {
			ls[l].RiskDifference = stats.Missing(n[0], "Newcombe hybrid score", "the level the others are held against")
			continue
		}
		ls[l].RiskDifference = Difference(stats.TwoByTwo{A: x[l], B: n[l] - x[l], C: x[0], D: n[0] - x[0]})
	}
	return ls
}

// exposure is 0 clean, 1 mended, 2 cut with the fault, -1 not known or not at
// risk.
func exposure(cut, first form.State) int {
	switch {
	case cut == form.With:
		return 2
	case cut != form.Without:
		return -1
	case first == form.With:
		return 1
	}
	return 0
}

// MostBehind is up to how many orders a count names the orders behind it: nobody goes
// through more of them, and every run that is kept holds the list (judgement).
const MostBehind = 500

// Behind are the ids of the orders among rows that of says, newest shipped first; nil
// where there are more than MostBehind.
func Behind(c *cohort.Cohort, rows []int, of func(i int) bool) []string {
	ids := ordersOf(c, rows, of)
	if len(ids) > MostBehind {
		return nil
	}
	return ids
}

// Newest are ids in the order of shipping turned round, as [Behind] has them; nil where
// there are more than MostBehind.
func Newest(ids []string) []string {
	if len(ids) > MostBehind {
		return nil
	}
	out := slices.Clone(ids)
	slices.Reverse(out)
	return out
}

// ordersOf are the ids of all of them.
func ordersOf(c *cohort.Cohort, rows []int, of func(i int) bool) (ids []string) {
	for _, i := range slices.Backward(rows) {
		if of(i) {
			ids = append(ids, c.OrderID[i])
		}
	}
	return ids
}

// limits says what the sheets have no columns for, and how a return counts.
func limits(c *cohort.Cohort) []string {
	after := 0
	for i := range c.Shipped {
		if c.Remade[i].Known() && remadeAfterReturn(c, i) {
			after++
		}
	}
	returns := "A pair returned for the money can't be remade later: all risks are of a remake before a return, crude and adjusted alike."
	if after > 0 {
		returns += fmt.Sprintf(" On %d orders a remake was reported after a return; that remake isn't counted. If no money was given back, mend the outcomes sheet.", after)
	}
	return []string{
		"Forms are graded once and by one person: there is no second grader, so agreement on the noted faults is not known.",
		"Faults may have been looked for harder behind remakes; the sheets have no sampled, blind grading to check it.",
		"Call-backs were not drawn by lot: who was called back depends on who looked bad or was easy to reach.",
		"A customer who reports nothing counts as kept; lastroom silence tells how far that could move the findings.",
		returns,
	}
}
