package stats

import (
	"cmp"
	"math"
	"slices"
)

// Fisher holds the p-values of Fisher's exact test on a fourfold table, all
// margins given. Less and Greater are one-sided (fewer, more exposed events
// than by chance). TwoSided sums the tables no more probable than the
// observed, with a relative allowance of 1e-7 for rounding. MidP is the
// two-sided mid-p by doubling: twice the smaller tail in which the observed
// table counts half.
type Fisher struct{ Less, Greater, TwoSided, MidP float64 }

// FisherExact tests a fourfold table. Counts that make no sense give NaN
// throughout; an empty margin gives 1 throughout, since only one table is
// possible.
//
// Fisher RA (1935) The Design of Experiments, ch. 2; mid-p: Lancaster HO
// (1961) J Am Stat Assoc 56:223-234.
func FisherExact(t TwoByTwo) Fisher {
	if t.A < 0 || t.B < 0 || t.C < 0 || t.D < 0 {
		nan := math.NaN()
		return Fisher{nan, nan, nan, nan}
	}
	n1, n0, m := t.N1(), t.N0(), t.A+t.C
	lo, hi := max(0, m-n0), min(n1, m)
	all := lchoose(n1+n0, m)
	logp := func(a int) float64 { return lchoose(n1, a) + lchoose(n0, m-a) - all }
	seen := math.Exp(logp(t.A))
	var f Fisher
	for a := lo; a <= hi; a++ {
		p := math.Exp(logp(a))
		if a < t.A {
			f.Less += p
		}
		if a > t.A {
			f.Greater += p
		}
		if p <= seen*(1+1e-7) {
			f.TwoSided += p
		}
	}
	f.MidP = math.Min(1, 2*(math.Min(f.Less, f.Greater)+seen/2))
	f.Less, f.Greater = math.Min(1, f.Less+seen), math.Min(1, f.Greater+seen)
	f.TwoSided = math.Min(1, f.TwoSided)
	return f
}

func lchoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// BenjaminiHochberg turns p-values into q-values in the same order:
// q(i) = min over j >= i of p(j) m/j, at most 1, p sorted upward. Calling all
// with q <= Q a finding keeps the expected share of false findings under Q.
//
// A NaN (no test was made) stays NaN and does not count in m; so does a value
// outside [0,1]. Benjamini Y, Hochberg Y (1995) J R Stat Soc B 57:289-300.
func BenjaminiHochberg(p []float64) []float64 {
	q := make([]float64, len(p))
	order := make([]int, 0, len(p))
	for i, v := range p {
		q[i] = math.NaN()
		if v >= 0 && v <= 1 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(p[i], p[j]) })
	least := 1.0
	for k := len(order); k > 0; k-- {
		i := order[k-1]
		least = math.Min(least, p[i]*(float64(len(order))/float64(k)))
		q[i] = least
	}
	return q
}
