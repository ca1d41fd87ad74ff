package stats

import (
	"math"
	"slices"
)

// Quantile7 is the quantile p of a sorted sample by linear interpolation of
// the order statistics at 1 + (n-1)p: type 7 of Hyndman RJ, Fan Y (1996) Am
// Stat 50:361-365. It is NaN for an empty sample, a p outside [0,1] or a
// sample that ends in NaN. The sample must be sorted upward.
func Quantile7(sorted []float64, p float64) float64 {
	n := len(sorted)
	if n == 0 || !(p >= 0 && p <= 1) || math.IsNaN(sorted[0]) || math.IsNaN(sorted[n-1]) {
		return math.NaN()
	}
	at := float64(n-1) * p
	i := int(math.Floor(at + 4*0x1p-52)) // as R: 0.1*30 is 3
	if i >= n-1 {
		return sorted[n-1]
	}
	frac := at - float64(i)
	if frac <= 0 || sorted[i] == sorted[i+1] {
		return sorted[i]
	}
	return sorted[i] + frac*(sorted[i+1]-sorted[i])
}

// sortedFinite is a sorted copy without NaN and infinities.
func sortedFinite(x []float64) []float64 {
	out := make([]float64, 0, len(x))
	for _, v := range x {
		if finite(v) {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	return out
}
