package regression

import (
	"math"

	"lastroom/analysis/stats"
)

// Weights are how often each slot counts (2*pattern without, +1 with an event)
// and the share of events reported by each edge.
type Weights struct {
	Slot, Share []float64

	counting []int32 // patterns that count at all

	counts  *counts     // where not every subject counts once as it was reported
	imputed *Imputation // where they come of one
}

// Whole are the weights of the subjects as they are.
func (d *Design) Whole() Weights {
	w := Weights{Slot: make([]float64, 2*d.Patterns()), Share: d.reportShare(nil), counting: d.patterns()}
	for _, s := range d.slot {
		w.Slot[s]++
	}
	return w
}

// patterns are the numbers of all.
func (d *Design) patterns() []int32 {
	all := make([]int32, d.Patterns())
	for i := range all {
		all[i] = int32(i)
	}
	return all
}

// count notes which patterns count, in room.
func (w Weights) count(room []int32) Weights {
	w.counting = room[:0]
	for i := range len(w.Slot) / 2 {
		if w.of(i) > 0 {
			w.counting = append(w.counting, int32(i))
		}
	}
	return w
}

// Events is the number of events.
func (w Weights) Events() float64 {
	x := 0.0
	for s := 1; s < len(w.Slot); s += 2 {
		x += w.Slot[s]
	}
	return x
}

// total is the number of subjects.
func (w Weights) total() float64 {
	n := 0.0
	for _, v := range w.Slot {
		n += v
	}
	return n
}

func (w Weights) of(pattern int) float64 { return w.Slot[2*pattern] + w.Slot[2*pattern+1] }

// Arms counts the subjects with and without an exposure, mended ones among the
// latter.
func (w Weights) Arms(levels []Level) stats.TwoByTwo {
	var a, b, c, d float64
	for i, l := range levels {
		n0, n1 := w.Slot[2*i], w.Slot[2*i+1]
		switch l {
		case With:
			a, b = a+n1, b+n0
		case Clean, Mended:
			c, d = c+n1, d+n0
		}
	}
	whole := func(v float64) int { return int(math.Round(v)) } // subjects may count in parts
	return stats.TwoByTwo{A: whole(a), B: whole(b), C: whole(c), D: whole(d)}
}

// PooledRisk is the risk of all subjects alike: events over the subjects'
// weights in follow-up; 0 where nobody was followed.
func (d *Design) PooledRisk(w Weights) float64 {
	x, n := 0.0, 0.0
	for i := range d.age {
		x += w.Slot[2*i+1]
		n += w.of(i) * w.Share[d.age[i]]
	}
	if n == 0 {
		return 0
	}
	return min(1, x/n)
}

// ShareBy is the share of events reported by any age, straight between the edges by
// which it is given.
func ShareBy(edges []int, share []float64, age int) float64 {
	before, at := 0.0, 0
	for k, e := range edges {
		if age < e {
			return before + (share[k]-before)*float64(max(0, age-at))/float64(e-at)
		}
		before, at = share[k], e
	}
	return 1
}

// reportShare is F: the share of the events reported by each edge, of those
// reported by the last edge that any subject was followed to. multiple is how
// often each cluster counts; nil: once. Subjects followed to a younger age only
// show their early reports (right truncation); the product-limit over falling
// age takes care of it: F(e_k) = prod over l > k of 1 - g_l, with g_l the events
// reported in (e_{l-1}, e_l] over those reported by e_l, both among subjects
// followed to e_l.
//
// It is the product-limit estimator in reverse time, derived here and worked by
// hand in TestReportShareByHand (no source).
func (d *Design) reportShare(multiple []float64) []float64 {
	in, by := d.delayCounts(multiple)
	share := make([]float64, len(d.Edges))
	F := 1.0
	for k := len(share) - 1; k >= 0; k-- {
		share[k] = F
		if by[k] > 0 {
			F *= 1 - in[k]/by[k]
		}
	}
	return share
}

// delayCounts are, per edge, the events reported in the span up to it (in) and
// by it (by), both among subjects followed to it.
func (d *Design) delayCounts(multiple []float64) (in, by []float64) {
	n := len(d.Edges)
	table := make([]float64, n*n) // [reported][followed]
	for _, e := range d.delays {
		w := 1.0
		if multiple != nil {
			w = multiple[d.Cluster[e.subject]]
		}
		table[int(e.reported)*n+int(e.followed)] += w
	}
	in, by = make([]float64, n), make([]float64, n)
	for k := range n {
		for followed := k; followed < n; followed++ {
			in[k] += table[k*n+followed]
			for r := 0; r <= k; r++ {
				by[k] += table[r*n+followed]
			}
		}
	}
	return in, by
}

// throughShare is how an answer moves with one more delay, by [reported]
// [followed], when it moves by late[k] with the share reported by edge k. The
// share is a product over edges (reportShare), so its logarithm's derivative is
// a sum over them.
func (d *Design) throughShare(share, late []float64) []float64 {
	n := len(share)
	in, by := d.delayCounts(nil)
	out := make([]float64, n*n)
	for r := range n {
		for followed := r; followed < n; followed++ {
			sum := 0.0 // derivative of log share at the edge in hand
			for k := n - 2; k >= 0; k-- {
				l := k + 1
				if left := by[l] - in[l]; left > 0 && r <= l && l <= followed {
					sum += in[l] / by[l] / left
					if r == l {
						sum -= 1 / left
					}
				}
				out[r*n+followed] += late[k] * share[k] * sum
			}
		}
	}
	return out
}
