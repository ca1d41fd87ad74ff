package stats

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A Spell is a number of subjects followed for the same time to the same end:
// Code 0 is the end of follow-up without an event (censored), 1, 2, … are the
// causes. Count may be any weight above 0; 0 stands for nobody.
//
// A million orders group into a few hundred spells ([GroupSpells]); methods
// then cost next to nothing. Spells with a NaN or negative time or count are
// passed over.
type Spell struct {
	Time  float64
	Code  int
	Count float64
}

// GroupSpells counts subjects by day and code. Days before 0 are taken as 0.
// The slices must be as long as each other, or the result is nil.
func GroupSpells(days []int32, codes []uint8) []Spell {
	if len(days) != len(codes) || len(days) == 0 {
		return nil
	}
	last, kinds := max(slices.Max(days), 0), int(slices.Max(codes))+1
	if int(last) > 50*len(days)+1000 { // absurd days: don't make a table of them
		out := make([]Spell, len(days))
		for i, d := range days {
			out[i] = Spell{float64(max(d, 0)), int(codes[i]), 1}
		}
		return out
	}
	table := make([]float64, (int(last)+1)*kinds)
	for i, d := range days {
		table[int(max(d, 0))*kinds+int(codes[i])]++
	}
	var out []Spell
	for i, n := range table {
		if n > 0 {
			out = append(out, Spell{float64(i / kinds), i % kinds, n})
		}
	}
	return out
}

// A lifeRow is one distinct time: how many were at risk just before it, how
// many events of each cause (index cause-1) it saw, and their sum.
type lifeRow struct {
	time, atRisk, events float64
	cause                []float64
}

// lifeTable sorts spells into distinct times. All events of a time come before
// its censorings.
func lifeTable(spells []Spell, causes int) (rows []lifeRow, total float64) {
	kept := slices.DeleteFunc(slices.Clone(spells), func(s Spell) bool {
		return !(s.Time >= 0) || !(s.Count > 0) || math.IsInf(s.Time, 0) || math.IsInf(s.Count, 0) || s.Code < 0 || s.Code > causes
	})
	slices.SortFunc(kept, func(a, b Spell) int { return cmp.Or(cmp.Compare(a.Time, b.Time), cmp.Compare(a.Code, b.Code)) })
	for _, s := range kept {
		total += s.Count
	}
	left := total
	for i := 0; i < len(kept); {
		row, gone := lifeRow{time: kept[i].Time, atRisk: left, cause: make([]float64, causes)}, 0.0
		for ; i < len(kept) && kept[i].Time == row.time; i++ {
			gone += kept[i].Count
			if k := kept[i].Code; k > 0 {
				row.cause[k-1] += kept[i].Count
				row.events += kept[i].Count
			}
		}
		rows, left = append(rows, row), left-gone
	}
	return rows, total
}

// A Curve is a Kaplan-Meier curve: one entry a distinct time, events or not.
type Curve struct {
	Time, AtRisk, Events []float64
	// Survival is the share still without the event just after Time.
	Survival []float64
	// SE is Greenwood's standard error: NaN once nobody is left.
	SE    []float64
	Level float64
	Total float64 // subjects at the start
}

// KaplanMeier is the product-limit estimate of survival. Every code above 0
// counts as the event; censored subjects count as at risk up to and including
// their time. No spells give an empty curve.
//
// An end that makes the event impossible (a refund) must not be coded as
// censored: use [AalenJohansen].
//
// Kaplan EL, Meier P (1958) J Am Stat Assoc 53:457-481; Greenwood M (1926).
func KaplanMeier(spells []Spell, level float64) Curve {
	one := slices.Clone(spells)
	for i := range one {
		one[i].Code = min(one[i].Code, 1)
	}
	rows, total := lifeTable(one, 1)
	c := Curve{Level: level, Total: total}
	s, sum := 1.0, 0.0
	for _, r := range rows {
		if stays := r.atRisk - r.events; stays > total*1e-12 {
			s *= stays / r.atRisk
			sum += r.events / (r.atRisk * stays)
		} else {
			s, sum = 0, math.NaN()
		}
		c.Time, c.AtRisk, c.Events = append(c.Time, r.time), append(c.AtRisk, r.atRisk), append(c.Events, r.events)
		c.Survival, c.SE = append(c.Survival, s), append(c.SE, s*math.Sqrt(sum))
	}
	return c
}

// At is the survival at time t, with the log-log interval
// S^exp(-+z SE/(S log S)). Before the first event, and once survival is 0,
// there is no such interval: the point stands without one. Later than the
// longest follow-up nothing is known, and it is Missing.
//
// Kalbfleisch JD, Prentice RL (1980); Klein JP, Moeschberger ML (2003) Survival
// Analysis, sec. 4.3.
func (c Curve) At(t float64) Estimate {
	const method = "Kaplan-Meier, Greenwood log-log interval"
	n := int(math.Round(c.Total))
	e := Missing(n, method)
	e.Level = c.Level
	i, why := stepAt(c.Time, t, c.Level)
	if why != "" {
		return e.Warn(why)
	}
	e.Point = 1
	if i < 0 || c.Survival[i] == 1 {
		return e.Warn("no event by then: no log-log interval")
	}
	if e.Point = c.Survival[i]; e.Point == 0 {
		return e.Warn("nobody is left without the event: no log-log interval")
	}
	e.Low, e.High = logLog(e.Point, c.SE[i], c.Level)
	return e
}

// stepAt is the last step of a curve by time t, -1 before the first, or why nothing is
// known of t.
func stepAt(time []float64, t, level float64) (i int, why string) {
	switch {
	case len(time) == 0 || !(t >= 0):
		return 0, "nobody was followed"
	case math.IsNaN(Z(level)):
		return 0, badLevel(level)
	case t > time[len(time)-1]:
		return 0, "nobody was followed that long"
	}
	i, found := slices.BinarySearch(time, t)
	if !found {
		i--
	}
	return i, ""
}

// logLog are the limits of a share s from the normal limits of log(-log s).
func logLog(s, se, level float64) (lo, hi float64) {
	f := math.Exp(Z(level) * se / (s * math.Abs(math.Log(s))))
	return math.Pow(s, f), math.Pow(s, 1/f)
}

// ShareBy is 1 - S(t): the share that had the event by time t. Edges as for
// [Curve.At].
func (c Curve) ShareBy(t float64) Estimate {
	e := c.At(t)
	e.Point, e.Low, e.High = 1-e.Point, 1-e.High, 1-e.Low
	return e
}

// Median is the first time at which survival is 1/2 or less, its limits the
// first times at which the log-log limits are (Brookmeyer and Crowley 1982,
// Biometrics 38:29-41). NaN marks what was not reached.
func (c Curve) Median() Estimate {
	e := Missing(int(math.Round(c.Total)), "Kaplan-Meier median, log-log interval")
	e.Level = c.Level
	first := func(x *float64, share, t float64) {
		if math.IsNaN(*x) && share <= 0.5+1e-12 {
			*x = t
		}
	}
	for i, t := range c.Time {
		lo, hi := c.Survival[i], c.Survival[i]
		if s := c.Survival[i]; s > 0 && s < 1 {
			lo, hi = logLog(s, c.SE[i], c.Level)
		}
		if c.Events[i] > 0 {
			first(&e.Point, c.Survival[i], t)
			first(&e.Low, lo, t)
			if c.Survival[i] > 0 {
				first(&e.High, hi, t)
			}
		}
	}
	if !e.Given() {
		return e.Warn("fewer than half have had the event")
	}
	return e
}

// LogRank compares the event rates of groups, with the hypergeometric
// variance at each time. Observed and Expected are the events of each group;
// every code above 0 counts. With fewer than two groups that have anybody at
// risk, or no event, the test is NaN.
//
// Mantel N (1966) Cancer Chemother Rep 50:163-170; Peto R, Peto J (1972).
func LogRank(groups ...[]Spell) (test Test, observed, expected []float64) {
	k := len(groups)
	observed, expected = make([]float64, k), make([]float64, k)
	var pooled []Spell
	for g, spells := range groups {
		for _, s := range spells {
			if s.Code >= 0 {
				pooled = append(pooled, Spell{s.Time, 2*g + min(s.Code, 1) + 1, s.Count})
			}
		}
	}
	rows, _ := lifeTable(pooled, 2*k)
	left := make([]float64, k)
	for _, r := range rows {
		for g := range left {
			left[g] += r.cause[2*g] + r.cause[2*g+1]
		}
	}
	v := mat.NewSymDense(max(k, 1), nil)
	for _, r := range rows {
		n, d := 0.0, 0.0
		for g := range left {
			n, d = n+left[g], d+r.cause[2*g+1]
		}
		for g := range left {
			observed[g] += r.cause[2*g+1]
			expected[g] += d * left[g] / n
			for h := 0; h <= g && n > 1; h++ {
				same := 0.0
				if g == h {
					same = 1
				}
				v.SetSym(g, h, v.At(g, h)+d*(n-d)/(n-1)*left[g]/n*(same-left[h]/n))
			}
		}
		for g := range left {
			left[g] -= r.cause[2*g] + r.cause[2*g+1]
		}
	}
	return logRankTest(v, observed, expected), observed, expected
}

func logRankTest(v *mat.SymDense, observed, expected []float64) Test {
	var use []int // groups with variance; the last is given by the others
	for g := range observed {
		if v.At(g, g) > 0 {
			use = append(use, g)
		}
	}
	if len(use) < 2 {
		return chi2Test(math.NaN(), 0)
	}
	use = use[:len(use)-1]
	sub, diff := mat.NewSymDense(len(use), nil), mat.NewVecDense(len(use), nil)
	for a, g := range use {
		diff.SetVec(a, observed[g]-expected[g])
		for b, h := range use[:a+1] {
			sub.SetSym(a, b, v.At(g, h))
		}
	}
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(sub) || chol.SolveVecTo(&x, diff) != nil {
		return chi2Test(math.NaN(), 0)
	}
	return chi2Test(mat.Dot(diff, &x), len(use))
}
