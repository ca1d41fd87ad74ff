package regression

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// By hand, of three patterns with 10, 20 and 30 subjects of whom 1, 4 and 9 have an event: with it,
// mended, not known. Mended ones count as without.
func TestArmsByHand(t *testing.T) {
	w := Weights{Slot: []float64{9, 1, 16, 4, 21, 9}}
	x := w.Arms([]Level{With, Mended, Unknown})
	assert.Equal(t, []int{1, 9, 4, 16}, []int{x.A, x.B, x.C, x.D})
	assert.Equal(t, 4, w.Arms([]Level{NotAtRisk, Clean, Unknown}).C)
}

// By hand: 10 subjects followed until half of the events are told, one has one; 20 followed to the
// end, four of them have. 5 events of 10/2 + 20.
func TestPooledRiskByHand(t *testing.T) {
	d := &Design{Edges: []int{30, 365}, age: []uint8{0, 1}}
	assert.InDelta(t, 5.0/25, d.PooledRisk(Weights{Slot: []float64{9, 1, 16, 4}, Share: []float64{0.5, 1}}), 1e-15)
	assert.Zero(t, d.PooledRisk(Weights{Slot: make([]float64, 4), Share: []float64{0.5, 1}}))
}

// Straight between the edges: from nothing on day 0 to 0.4 on day 100, then to all on day 200.
func TestShareByHand(t *testing.T) {
	for age, want := range map[int]float64{-5: 0, 0: 0, 50: 0.2, 100: 0.4, 150: 0.7, 200: 1, 900: 1} {
		assert.InDelta(t, want, ShareBy([]int{100, 200}, []float64{0.4, 1}, age), 1e-15, "%d", age)
	}
}

// A subject followed for just so many days counts.
func TestEdgeFrom(t *testing.T) {
	d := &Design{Edges: []int{30, 90, 365}}
	for days, want := range map[int]int{0: 0, 30: 0, 31: 1, 90: 1, 91: 2, 365: 2, 400: 2} {
		assert.Equal(t, want, d.edgeFrom(days), "%d", days)
	}
}
