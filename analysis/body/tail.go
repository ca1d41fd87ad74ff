package body

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"
)

// tailShares are the shares of good forms at which a score's distribution is kept.
var tailShares = [...]float64{0.5, 0.2, 0.05, 0.01, 0.002}

// A tail is the upper tail of a score among good forms: at[i] is the score that
// a share tailShares[i] of them reaches.
type tail struct{ at [len(tailShares)]float64 }

// tailOf takes the quantiles (type 7) of simulated scores.
func tailOf(scores []float64) (t tail) {
	sort.Float64s(scores)
	for i, share := range tailShares {
		t.at[i] = stat.Quantile(1-share, stat.LinInterp, scores, nil)
	}
	return t
}

// odd is minus the base-10 logarithm of the share of good forms that reach
// score s, by straight lines through the kept points, extended at both ends.
func (t *tail) odd(s float64) float64 {
	last := len(tailShares) - 1
	k := 1
	for k < last && s > t.at[k] {
		k++
	}
	lo, hi := -math.Log10(tailShares[k-1]), -math.Log10(tailShares[k])
	width := math.Max(t.at[k]-t.at[k-1], 1e-9)
	return math.Max(0, lo+(hi-lo)*(s-t.at[k-1])/width)
}
