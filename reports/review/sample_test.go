package review

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
	"lastroom/analysis/stats"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// invented is a cohort of n orders over the three years before the as-of day,
// invented for these tests: two faults raise the risk, the others do not.
func invented(n int, seed uint64) *cohort.Cohort {
	r := rand.New(rand.NewPCG(seed, 1))
	asOf, _ := cohort.ParseDay("2026-10-31")
	start := asOf - 1095
	factor := func(levels ...string) cohort.Factor {
		return cohort.Factor{Levels: append([]string{""}, levels...), Code: make([]int32, n)}
	}
	c := &cohort.Cohort{AsOf: asOf, Closure: factor("pull-on", "lace-up"), Channel: factor("home", "dealer", "shop"), Sock: factor("thin", "thick"), Sex: factor("f", "m"),
		Tucked: factor("yes", "no"), Orthotic: factor("yes", "no"), Measurer: factor("m1", "m2", "m3"), Region: factor("north"),
		Cause: factor("measuring", "making"), Zone: factor("toe", "length", "ball", "instep", "heel", "ankle", "calf", "top"), Direction: factor("tight", "loose", "short", "long"), Side: factor("left", "right", "both")}
	c.Cut, c.First = make(cohort.FormFaults, len(form.Faults)), make(cohort.FormFaults, len(form.Faults))
	for f := range form.Faults {
		c.Cut[f], c.First[f] = make([]form.State, n), make([]form.State, n)
	}
	pick := func(f cohort.Factor, i int) { f.Code[i] = int32(1 + r.IntN(len(f.Levels)-1)) }
	for i := range n {
		shipped := start + cohort.Day(i*1095/n)
		c.OrderID = append(c.OrderID, fmt.Sprintf("O-%05d", i+1))
		c.Customer = append(c.Customer, int32(i*7/8))
		c.Received = append(c.Received, shipped-60)
		c.Shipped = append(c.Shipped, shipped)
		c.ShaftMM = append(c.ShaftMM, float64(8+2*r.IntN(5))*25.4)
		for _, f := range []cohort.Factor{c.Closure, c.Channel, c.Sock, c.Sex, c.Tucked, c.Orthotic, c.Measurer, c.Region} {
			pick(f, i)
		}
		risk := 0.05
		for f, fault := range form.Faults {
			c.First[f][i] = form.Without
			switch {
			case fault.AtRisk == form.WornTucked && c.Tucked.Code[i] != 1, fault.AtRisk == form.WithOrthotic && c.Orthotic.Code[i] != 1:
				c.First[f][i] = form.NotAtRisk
			case r.Float64() < 0.05:
				c.First[f][i] = form.Unknown
			case r.Float64() < 0.03+0.02*float64(f%5):
				c.First[f][i] = form.With
			}
			c.Cut[f][i] = c.First[f][i]
			if c.Cut[f][i] == form.With && r.Float64() < 0.3 {
				c.Cut[f][i] = form.Without
			}
			if c.Cut[f][i] == form.With && (f == 0 || f == 6) {
				risk += 0.15
			}
		}
		remade, returned := cohort.NoDay, cohort.NoDay
		if day := shipped + 10 + cohort.Day(r.ExpFloat64()*50); r.Float64() < risk && day <= asOf {
			remade = day
			for _, f := range []cohort.Factor{c.Cause, c.Zone, c.Direction, c.Side} {
				pick(f, i)
			}
		} else if r.Float64() < 0.01 && shipped+90 <= asOf {
			returned = shipped + 90
		}
		c.Remade, c.Returned, c.Adjusted = append(c.Remade, remade), append(c.Returned, returned), append(c.Adjusted, cohort.NoDay)
		c.Cost = append(c.Cost, math.NaN())
		c.CutNo, c.CalledBack = append(c.CutNo, 1), append(c.CalledBack, false)
		c.Answered = append(c.Answered, remade.Known() || r.Float64() < 0.4)
	}
	c.Excluded = []cohort.Exclusion{{Reason: "second making of another order", Orders: 12}, {Reason: "not shipped by the as-of day", Orders: 41}}
	return c
}

// scorecard is a document of rules with figures made up for these tests.
func scorecard(n int) rules.Scorecard {
	e := func(p, lo, hi float64) stats.Estimate {
		return stats.Estimate{Point: p, Low: lo, High: hi, Level: 0.95, N: 1180, Method: "test"}
	}
	asOf, _ := cohort.ParseDay("2026-10-31")
	d := rules.Scorecard{AsOf: asOf, FirstForms: 1180, Remade: 96, Months: 29, Success: 0.7, SuccessFrom: "assumed: too few call-backs with an answer"}
	for i, r := range rules.Default() {
		if i == n {
			break
		}
		h := 0.03 + 0.01*float64(i%7)
		s := rules.Scored{Rule: r, Held: int(h * 1180), NotHeld: 1100, HeldShare: e(h, h-0.01, h+0.01), HeldAMonth: e(4, 3, 5), RemakesCaught: 10 + i, Remakes: 96,
			Sensitivity: e(0.1+0.01*float64(i), 0.06, 0.2), RateHeld: e(0.2, 0.12, 0.31), RateNotHeld: e(0.07, 0.05, 0.09), CalledBack: e(0.09, 0.04, 0.18),
			CallsPerCatch: e(5.1, 3.6, 8), NumberNeeded: e(9, 6, 20), Avoidable: e(0.8-0.05*float64(i), 0.1, 1.2), Corrected: e(0.7-0.05*float64(i), 0, 1.1), Net: e(120, -20, 260)}
		if i%6 == 5 {
			why := fmt.Sprintf("%d forms held: 6 more needed", 4)
			miss := stats.Missing(4, "test", why)
			s.RateHeld, s.Sensitivity, s.Avoidable, s.Corrected, s.Net, s.NumberNeeded = miss, miss, miss, miss, miss, miss
			s.TooFew = why
		}
		if i == 1 {
			from, _ := cohort.ParseDay("2025-04-01")
			s.Since = &rules.Since{From: from, Before: rules.Span{Orders: 500, Remade: 50, Rate: e(0.1, 0.08, 0.13)}, After: rules.Span{Orders: 600, Remade: 40, Rate: e(0.066, 0.05, 0.09)},
				Step: e(-2, -5, 1), Promised: e(0.9, 0.2, 1.6), Words: "Fewer remakes since, but not more than the trend would have brought.", Traps: []string{"A bad stretch is often followed by a better one by itself."}}
			s.KeptPromise = e(0.6, 0.1, 1.4)
		}
		d.Rules = append(d.Rules, s)
	}
	return d
}

func spreads() []human.Spread {
	var out []human.Spread
	for _, sex := range []form.Sex{form.Male, form.Female} {
		for _, name := range []string{"length", "breadth", "ball", "heel", "ankle", "calf", "ball/length", "heel/ball"} {
			s := human.Spread{Name: name, Sex: sex, N: 1200}
			r, _ := published(s)
			q := func(p float64) float64 { return r.Quantile(p)*1.01 + r.Offset }
			s.P1, s.P5, s.P25, s.P50, s.P75, s.P95, s.P99 = q(0.01), q(0.05), q(0.25), q(0.5), q(0.75), q(0.95), q(0.99)
			out = append(out, s)
		}
	}
	return out
}

// made is a review of n invented orders.
func made(t testing.TB, n int) *Review {
	t.Helper()
	if reviews[n] == nil {
		reviews[n] = fresh(t, n)
	}
	return reviews[n]
}

var reviews = map[int]*Review{} // of made, by their orders

// fresh is made anew.
func fresh(t testing.TB, n int) *Review {
	t.Helper()
	c := invented(n, 7)
	o := remakes.Options{Replicates: 40, Seed: 1}
	month, err := cohort.ParseMonth("2026-09")
	require.NoError(t, err)
	var months []human.RangeMonth
	for m := month - 11; m <= month; m++ {
		months = append(months, human.RangeMonth{Month: m, Judged: n / 36, Out: int(m) % 3})
	}
	table, card := remakes.Faults(context.Background(), c, o), scorecard(99)
	applied := make([]rules.Applied, len(card.Rules))
	for j, r := range card.Rules {
		applied[j] = rules.Applied{Rule: r.Rule, Held: c.First[j%len(form.Faults)]}
	}
	return Make(Input{
		Cohort: c, Month: month, Faults: table, Rules: card, Trend: monitoring.Watch(c, o),
		Spreads: spreads(), RangeMonths: months,
		Silence: sensitivity.Silent(context.Background(), c, table, card, applied, sensitivity.Options{}),
		Blanks:  sensitivity.Unjudged(context.Background(), c, table, sensitivity.UnjudgedOptions{Seed: 1, BoundsOnly: n > 1000}),
	})
}

// sheets says where the shipped notebook puts the parts.
var sheets = map[string]page.Section{
	"run-chart": {Sheet: 1, Beside: true, Title: "Month by month"}, "figures": {Sheet: 1, Title: "The month and its neighbours"}, "remade": {Sheet: 1, Title: "What came back"},
	"findings": {Sheet: 1, Title: "What was found"}, "decide": {Sheet: 1},
	"look-at": {Sheet: 2, Beside: true, Title: "Orders to look at"}, "complaints": {Sheet: 2, Title: "Where boots did not fit"}, "scorecard": {Sheet: 2, Title: "Intake rules"},
	"fault-table": {Sheet: 2, Title: "Faults and remakes"}, "month": {Sheet: 2, Title: "Which orders are counted"},
}

// document puts a review on its sheets.
func document(r *Review) *page.Document {
	d := &page.Document{Title: "Fit review, boots shipped in " + brief.MonthName(r.Month), Lead: r.Lead(), Cautions: Cautions,
		Provenance: page.Provenance{AsOf: r.AsOf, BookHash: "7f3b9c2a4d5e6f70", Version: "test", Parameters: [][2]string{{"month", r.Month.String()}}}}
	for _, p := range r.Parts() {
		s, ok := sheets[p.Name]
		if !ok {
			s.Title = form.Capitalised(p.Name)
		}
		s.ID, s.Blocks = p.Name, p.Blocks
		if len(p.Blocks) > 0 {
			d.Sections = append(d.Sections, s)
		}
	}
	return d
}

// TestLook writes reviews of a few sizes where LOOK names a folder, for looking
// at.
func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip("set LOOK=folder to write sample reviews there")
	}
	for _, n := range []int{0, 40, 300, 3000} {
		f, err := os.Create(filepath.Join(dir, fmt.Sprintf("review-%d.html", n)))
		require.NoError(t, err)
		r := made(t, n)
		require.NoError(t, page.HTML(f, document(r)))
		require.NoError(t, f.Close())
		f, err = os.Create(filepath.Join(dir, fmt.Sprintf("review-%d.txt", n)))
		require.NoError(t, err)
		require.NoError(t, page.WriteText(f, document(r), page.TextOptions{Width: 100}))
		require.NoError(t, f.Close())
	}
}
