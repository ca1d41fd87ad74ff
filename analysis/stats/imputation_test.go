package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// SAS/STAT User's Guide, The MIANALYZE Procedure, Example "Reading Means and
// Standard Errors": mean oxygen uptake of 31 runners in five imputations, and
// 30 degrees of freedom of the complete data. The inputs were read there
// (support.sas.com/documentation/cdl/en/statug/63962, sect019, again in 67523,
// examples01), rounded as printed. The formulas are named there too (66859, details08:
// Rubin 1987, Barnard and Rubin 1999). The printed results could not be read again: they are
// from memory, and hold to within the rounding of the inputs.
func TestRubinsRulesOnFitnessMeans(t *testing.T) {
	means := []float64{47.0120, 47.2407, 47.4995, 47.1485, 47.0042}
	errors := []float64{0.95984, 0.93540, 1.00766, 0.95439, 0.96528}
	variances := make([]float64, len(errors))
	for i, s := range errors {
		variances[i] = s * s
	}
	p := Pool(means, variances, 30)
	assert.InDelta(t, 47.180993, p.Point, 2e-5)
	assert.InDelta(t, 0.041478, p.Spread, 2e-5)
	assert.InDelta(t, 0.930853, p.Within, 2e-5)
	assert.InDelta(t, 0.980626, p.Total, 2e-5)
	assert.InDelta(t, 26.298, p.DF, 2e-3)
	assert.InDelta(t, 0.051977, p.Missing, 2e-5)
	half := p.T(0.95) * math.Sqrt(p.Total)
	assert.InDelta(t, 45.1466, p.Point-half, 2e-4)
	assert.InDelta(t, 49.2154, p.Point+half, 2e-4)
}

// By hand: points 1, 2, 3 with variances 1/2 each. Between 1, total 1/2 + 4/3 =
// 11/6, lambda 8/11; Rubin's degrees of freedom 2*(11/8)^2 = 121/32, the observed
// ones 11/13*10*3/11 = 30/13.
func TestRubinsRulesByHand(t *testing.T) {
	p := Pool([]float64{1, 2, 3}, []float64{0.5, 0.5, 0.5}, math.Inf(1))
	assert.InDelta(t, 2, p.Point, 1e-12)
	assert.InDelta(t, 11.0/6, p.Total, 1e-12)
	assert.InDelta(t, 121.0/32, p.DF, 1e-12)
	assert.InDelta(t, (8.0/3+2/(121.0/32+3))/(11.0/3), p.Missing, 1e-12)
	assert.InDelta(t, 1/(32.0/121+13.0/30), Pool([]float64{1, 2, 3}, []float64{0.5, 0.5, 0.5}, 10).DF, 1e-12)
}

// Where nothing differs between imputations nothing was missing: the figure of
// the complete data, its degrees of freedom by Barnard and Rubin's limit
// nu (nu+1)/(nu+3) (also held so in amices/mice, tests/testthat/test-barnard.rubin.R).
func TestRubinsRulesWithNothingMissing(t *testing.T) {
	p := Pool([]float64{4, 4, 4}, []float64{2, 2, 2}, 100)
	assert.Equal(t, 2.0, p.Total)
	assert.InDelta(t, 100.0*101/103, p.DF, 1e-9)
	assert.Zero(t, p.Missing)
}
