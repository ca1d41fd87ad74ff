package regression

import (
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/stats"
)

// A policy that takes one exposure off all, or off some, is a contrast, whose
// answer is checked against refits; one that does different things to different
// groups is the sum of its groups.
func TestPoliciesAreContrasts(t *testing.T) {
	d := simulated(4000, 12)
	f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
	require.NoError(t, err)
	l := NewLinearization(Model{Fit: f})
	same := d.Restate(func(e, subject int) Level {
		k, _ := slices.BinarySearch(d.Subject, int32(subject))
		return d.level[e][d.Pattern(k)]
	})
	in := func(k int) bool { return k%7 != 0 }
	group := func(k int) int {
		switch {
		case !in(k):
			return Outside
		case k%3 == 2:
			return InNone
		}
		return k % 3
	}
	p := l.Policies(same, 2, group)
	assert.Equal(t, []uint32{3, 3}, p.Off)
	table := p.Falls(nil)
	for e := range 2 {
		off := []bool{e == 0, e == 1}
		want := l.Contrast(same, in, func(k int) bool { return group(k) == 1 }, off)
		got, fresh := p.Contrast(func(g int) int { return p.Entry(g, uint32(g)<<e) })
		assert.InDelta(t, want.Mean, got.Mean, 1e-14)
		assert.InDeltaSlice(t, want.Influence, got.Influence, 1e-12)
		assert.InDelta(t, want.Mean, table.Fall[p.Entry(1, 1<<e)]/table.Total, 1e-12)
		// What others of the same kind would add: each customer's falls less the mean, by hand.
		of, n := make([]float64, d.Clusters), 0.0
		for k := range d.slot {
			if in(k) {
				n++
			}
		}
		for k, cluster := range d.Cluster {
			if !in(k) {
				continue
			}
			of[cluster] -= want.Mean / n
			if i := d.Pattern(k); group(k) == 1 && d.level[e][i] == With {
				of[cluster] += (f.Risk(i) - stats.Logistic(f.sums.Linear(i, f.Coef)-f.Coef[d.withCol[e]])) / n
			}
		}
		assert.InDelta(t, floats.Norm(of, 2), fresh, 1e-14)
	}
	// Group 0 is rid of the first, group 1 of both.
	mixed := func(g int) int { return p.Entry(g, []uint32{1, 3}[g]) }
	first := l.Contrast(same, in, func(k int) bool { return group(k) == 0 }, []bool{true, false})
	both := l.Contrast(same, in, func(k int) bool { return group(k) == 1 }, []bool{true, true})
	got, _ := p.Contrast(mixed)
	assert.InDelta(t, first.Mean+both.Mean, got.Mean, 1e-14)

	// The table of a resample moves with its weights as the influences say.
	rng := rand.New(rand.NewPCG(3, 4))
	const h = 1e-4
	weights, moved := make([]float64, p.Clusters()), got.Mean
	for c := range weights {
		z := rng.NormFloat64()
		weights[c] = 1 + h*z
		moved += h * z * got.Influence[c]
	}
	other := p.Falls(weights)
	assert.InDelta(t, moved, (other.Fall[mixed(0)]+other.Fall[mixed(1)])/other.Total, 20*h*h*got.Jackknife().SE+1e-12)
}

// Subsets are numbered in the order of their bits.
func TestCompress(t *testing.T) {
	const all = 0b1011010
	seen := map[int]bool{}
	for off := range uint32(128) {
		at := compress(all, off)
		assert.Equal(t, bits.OnesCount32(off&all), bits.OnesCount(uint(at)))
		seen[at] = true
	}
	assert.Len(t, seen, 16)
	assert.Equal(t, 0b0101, compress(all, 0b0010010))
}

// The optimism of picking by the model, part by part: who is picked by the other parts is a policy, and
// the table of policies says what it seems to bring there, and, by what the whole has over the
// others, in the part left out.
func TestOptimismIsThatOfPolicies(t *testing.T) {
	d := simulated(2500, 5)
	f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
	require.NoError(t, err)
	l := NewLinearization(Model{Fit: f})
	const many, least = 4, 0.06
	part := make([]int, d.Clusters)
	for c := range part {
		part[c] = c % many
	}
	all := func(int) bool { return true }
	target := l.Target(d, all, []bool{true, true})
	want, mover := 0.0, l.mover()
	for apart := range many {
		weights := make([]float64, d.Clusters)
		for c := range weights {
			if part[c] != apart {
				weights[c] = many / (many - 1.0) // as many in all, as near as parts are of a size
			}
		}
		there := mover.moved(weights)
		floats.Add(there, f.Coef)
		fall, picked := target.falls(there), 0
		p := l.Policies(d, 1, func(k int) int {
			if fall[d.Pattern(k)] < least {
				return InNone
			}
			picked++
			return 0
		})
		require.Positive(t, picked)
		entry := p.Entry(0, 3)
		whole, others := p.Falls(nil), p.Falls(weights)
		want += others.Fall[entry]/others.Total - (many*whole.Fall[entry]-(many-1)*others.Fall[entry])/(many*whole.Total-(many-1)*others.Total)
	}
	require.Positive(t, want)
	assert.InDelta(t, want/many*(many-1)/many, target.Optimism(many, part, []float64{least})[0], 1e-12)
}
