package practice

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRaschTwoFaults: with two faults, once each, and hardly any penalty, the
// learners who find one of the two have equal chances on either side of one half,
// so the difference of difficulties is twice the logit of the share that found the
// first, ln(30/10): derived by hand.
func TestRaschTwoFaults(t *testing.T) {
	var x, n [][]float64
	for i := range 40 {
		first := float64(count(i < 30))
		x, n = append(x, []float64{first, 1 - first}), append(n, []float64{1, 1})
	}
	b, se := rasch(x, n, 1e4)
	require.NotNil(t, b)
	assert.InDelta(t, 2*math.Log(3), b[41]-b[40], 1e-5)
	assert.Len(t, se, 42)
}

// TestRaschOneCell: one learner and one fault, found x of n: ability is the
// negative of difficulty, and solves x - n/(1+exp(-2a)) = a/sd².
func TestRaschOneCell(t *testing.T) {
	b, _ := rasch([][]float64{{7}}, [][]float64{{10}}, spreadSD)
	assert.InDelta(t, 0, b[0]+b[1], 1e-9)
	assert.InDelta(t, 0, 7-10/(1+math.Exp(-2*b[0]))-b[0]/(spreadSD*spreadSD), 1e-9)
}

// TestRaschKnownTruth: intervals of abilities and difficulties drawn from the
// penalty's own spread hold the truth in about 95 of 100.
func TestRaschKnownTruth(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 15))
	in, all := 0, 0
	for range 100 {
		truth := make([]float64, 8+13)
		for i := range truth {
			truth[i] = spreadSD * r.NormFloat64()
		}
		x, n := make([][]float64, 8), make([][]float64, 8)
		for i := range x {
			for k := range 13 {
				found := 0.0
				for range 4 {
					found += float64(count(r.Float64() < 1/(1+math.Exp(truth[8+k]-truth[i]))))
				}
				x[i], n[i] = append(x[i], found), append(n[i], 4)
			}
		}
		b, se := rasch(x, n, spreadSD)
		require.NotNil(t, b)
		for i := range b {
			in, all = in+count(math.Abs(b[i]-truth[i]) < 1.96*se[i]), all+1
		}
	}
	assert.InDelta(t, 0.95, float64(in)/float64(all), 0.02)
}
