package rules

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/regression"
)

// A puzzle is a cover with its table of falls.
type puzzle struct {
	cover
	falls regression.Falls
}

// add adds a group of so many forms, held by rules; falls are its entries.
func (p *puzzle) add(count float64, falls []float64, mends map[int]uint32) {
	p.first = append(p.first, int32(len(p.falls.Fall)))
	p.falls.Count, p.falls.Fall = append(p.falls.Count, count), append(p.falls.Fall, falls...)
	for r, m := range mends {
		for len(p.parts) <= r {
			p.parts = append(p.parts, nil)
		}
		p.parts[r] = append(p.parts[r], part{len(p.first) - 1, m})
	}
}

// The knapsack problem that the OR-Tools guide works through (Google,
// developers.google.com/optimization/pack/knapsack): 50 items, capacity 850, best
// value 7534. Each item is a rule that holds forms of its own.
func TestKnapsack(t *testing.T) {
	values := []float64{360, 83, 59, 130, 431, 67, 230, 52, 93, 125, 670, 892, 600, 38, 48, 147, 78, 256, 63, 17, 120, 164, 432, 35, 92, 110, 22, 42, 50, 323, 514, 28, 87, 73, 78, 15, 26, 78, 210, 36, 85, 189, 274, 43, 33, 10, 19, 389, 276, 312}
	weights := []float64{7, 0, 30, 22, 80, 94, 11, 81, 70, 64, 59, 18, 0, 36, 3, 8, 15, 42, 9, 0, 42, 47, 52, 32, 26, 48, 55, 6, 29, 84, 2, 4, 18, 56, 7, 29, 93, 44, 71, 3, 86, 66, 31, 65, 0, 79, 20, 65, 52, 13}
	require.Len(t, weights, len(values))
	var p puzzle
	for i, v := range values {
		p.add(weights[i], []float64{0, v}, map[int]uint32{i: 1})
	}
	set, exact := p.bestSet(p.falls, aim{1, 0, 850}, nil)
	held, got := p.sum(p.falls, set)
	assert.True(t, exact)
	assert.EqualValues(t, 7534, got)
	assert.LessOrEqual(t, held, 850.0)
}

// Where taking the next best set each time fails, after an example at
// cs.stackexchange.com/questions/70101: of {u_i, v_i} for i = 1 to n and the set of
// all u, n may be taken. Greedy may begin with all u and then covers 2n-1 of the
// 2n elements; the n pairs cover all. Here u weighs a little more, so that it does.
func TestGreedyIsNotBest(t *testing.T) {
	const n = 6
	var p puzzle
	for i := range n {
		p.add(0, []float64{0, 1.01}, map[int]uint32{i: 1, n: 1})
		p.add(0, []float64{0, 1}, map[int]uint32{i: 1})
	}
	for r := range n + 1 { // each rule takes one of the n places
		p.add(1, []float64{0}, map[int]uint32{r: 0})
	}
	a := aim{1, 0, n}
	greedy := p.greedy(p.falls, a, nil)
	_, covered := p.sum(p.falls, greedy)
	assert.InDelta(t, 2*n-1, covered, 0.1)
	set, exact := p.bestSet(p.falls, a, nil)
	_, covered = p.sum(p.falls, set)
	assert.True(t, exact)
	assert.InDelta(t, n*2.01, covered, 1e-9)
	assert.Equal(t, []int{0, 1, 2, 3, 4, 5}, set)
}

// On random covers, with falls of either sign, prices and budgets of every size,
// and rules that must be in, branch and bound finds what trying every set finds.
func TestBestSetByTryingAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 6))
	for trial := range 400 {
		rules := 1 + rng.IntN(9)
		var p puzzle
		p.parts = make([][]part, rules)
		total := 0.0
		for range 1 + rng.IntN(25) {
			width := rng.IntN(4)
			falls := make([]float64, 1<<width)
			for m := range falls {
				if m > 0 {
					falls[m] = rng.NormFloat64() + 0.6*float64(bits.OnesCount(uint(m)))
				}
			}
			mends := map[int]uint32{}
			for r := range rules {
				if rng.Float64() < 0.4 {
					mends[r] = uint32(rng.IntN(1 << width))
				}
			}
			count := float64(1 + rng.IntN(20))
			total += count
			p.add(count, falls, mends)
		}
		a := aim{1 + rng.Float64(), 0.05 * rng.Float64(), math.Inf(1)}
		if trial%4 > 0 {
			a.most = total * rng.Float64()
		}
		var must []int
		if trial%5 == 0 {
			must = []int{rng.IntN(rules)}
			if held, _ := p.sum(p.falls, must); held > a.most {
				continue // nothing is possible
			}
		}
		best := math.Inf(-1)
		for m := range 1 << rules {
			var set []int
			for r := range rules {
				if m>>r&1 == 1 {
					set = append(set, r)
				}
			}
			missing := func(r int) bool { return !slices.Contains(set, r) }
			if held, _ := p.sum(p.falls, set); held > a.most || slices.ContainsFunc(must, missing) {
				continue
			}
			best = math.Max(best, p.value(p.falls, a, set))
		}
		set, exact := p.bestSet(p.falls, a, must)
		held, _ := p.sum(p.falls, set)
		require.True(t, exact)
		require.LessOrEqual(t, held, a.most)
		require.InDelta(t, best, p.value(p.falls, a, set), 1e-8, "trial %d", trial)
		for _, r := range must {
			require.Contains(t, set, r)
		}
	}
}
