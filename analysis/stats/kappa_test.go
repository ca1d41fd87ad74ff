package stats

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"
)

// Fleiss JL, Levin B, Paik MC (2003) Statistical Methods for Rates and Proportions, 3rd
// ed., two raters of 100: kappa 0.676, SE 0.088 (the figures of R's psych and vcd). Cohen
// J (1968) Psychol Bull 70:213-220: kappa .492. Agresti A (1990) Categorical Data
// Analysis, Table 2.10, as R's vcd prints it: 0.129330, SE 0.0685985.
func TestKappa(t *testing.T) {
	for _, c := range []struct {
		k         int
		counts    []float64
		point, se float64
	}{
		{3, []float64{75, 1, 4, 5, 4, 1, 0, 0, 10}, 0.676471, 0.0877030},
		{3, []float64{88, 14, 18, 10, 40, 10, 2, 6, 12}, 0.491525, -1},
		{4, []float64{7, 7, 2, 3, 2, 8, 3, 7, 1, 5, 4, 9, 2, 8, 9, 14}, 0.129330, 0.0685985},
	} {
		e := Kappa(mat.NewDense(c.k, c.k, c.counts), 0.95)
		assert.InDelta(t, c.point, e.Point, 1e-6)
		if c.se > 0 {
			assert.InDelta(t, c.se, (e.High-e.Low)/2/Z(0.95), 1e-6)
		}
	}
}

func TestKappaAtTheEdges(t *testing.T) {
	assert.False(t, Kappa(mat.NewDense(2, 2, nil), 0.95).Given(), "nothing rated")
	assert.False(t, Kappa(mat.NewDense(2, 2, []float64{9, 0, 0, 0}), 0.95).Given(), "one choice")
	all := Kappa(mat.NewDense(2, 2, []float64{5, 0, 0, 5}), 0.95)
	assert.Equal(t, 1.0, all.Point)
	assert.Less(t, all.Low, 0.6, "ten that agree are no certainty")
	never := Kappa(mat.NewDense(2, 2, []float64{0, 5, 5, 0}), 0.95)
	assert.Equal(t, -1.0, never.Point)
	assert.GreaterOrEqual(t, never.Low, -1.0)
}
