package regression

import (
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
		assert.Less(t, fresh, got.Jackknife().SE)
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
