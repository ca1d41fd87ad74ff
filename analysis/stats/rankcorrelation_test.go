package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestSpearman: lightness of tuna and panel scores, Hollander & Wolfe (1973)
// Nonparametric Statistical Methods, p. 187, as in the help of R's cor.test: the
// squared differences of ranks sum to 48, so that r is 1 - 6·48/720 = 0.6.
func TestSpearman(t *testing.T) {
	x := []float64{44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1}
	y := []float64{2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8}
	e := Spearman(x, y, 0.95)
	assert.InDelta(t, 0.6, e.Point, 1e-12)
	assert.Equal(t, 9, e.N)
	// The interval by hand: atanh 0.6 = ln 2, standard error √(1.18/6).
	half := 1.959963984540054 * math.Sqrt(1.18/6)
	assert.InDelta(t, math.Tanh(math.Ln2-half), e.Low, 1e-9)
	assert.InDelta(t, math.Tanh(math.Ln2+half), e.High, 1e-9)
	assert.Equal(t, []float64{2, 3.5, 3.5, 1}, midranks([]float64{2, 5, 5, 1}))
	assert.False(t, Spearman(x[:3], y[:3], 0.95).Given())
	assert.False(t, Spearman([]float64{1, 1, 1, 1}, y[:4], 0.95).Given())
	all := Spearman(x, x, 0.95)
	assert.InDelta(t, 1, all.Point, 1e-12)
	assert.Len(t, all.Warnings, 1)
}
