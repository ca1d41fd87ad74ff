package regression

import (
	"lastroom/analysis/regression/sparse"
	"testing"

	"github.com/stretchr/testify/assert"
)

// In one column Broyden's steps are those of the secant through the last two points (Kelley 1995). By hand,
// the score 2 - b at 1 with an information of 2 in place of 1: half of what is left is gone, and the next
// step is the rest. Where a step leaves 0.95 of the score the next is tenfold, not twentyfold.
func TestSecantByHand(t *testing.T) {
	s := secant{held: sparse.Factor{L: []float64{1.4142135623730951}, Aside: []bool{false}}}
	first := s.next([]float64{1})
	assert.InDelta(t, 0.5, first[0], 1e-15)
	s.steps = append(s.steps, first)
	second := s.next([]float64{0.5})
	assert.InDelta(t, 0.5, second[0], 1e-15)

	s.steps = [][]float64{{0.5}}
	assert.InDelta(t, 0.95*0.5*10, s.next([]float64{0.95})[0], 1e-12)
}
