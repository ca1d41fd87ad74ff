package human

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/form"
)

// TestLaw: the law is the mixture of the kinds of people, each worked out by
// itself from its own joint model.
func TestLaw(t *testing.T) {
	w := NewWorld(form.Female, Published(form.Home), 1)
	var terms []Term
	for i := range CoreCount {
		terms = append(terms, w.Term(CoordOf(uint32(i))))
	}
	g, err := NewGauss(w, terms)
	require.NoError(t, err)
	g.AddUnusual(w, terms, nil)
	r := rand.New(rand.NewPCG(4, 4))
	l, v := make([]float64, g.N), make([]float64, g.N)
	moves := make([][UnusualKinds]float64, g.N)
	for range 20 {
		for i := range l {
			l[i] = g.Mean[i] + 2*g.SD[i]*r.NormFloat64()
		}
		logP := g.Weigh(l, v)
		parts, left := []float64{}, 1.0
		for _, u := range unusuals {
			other := u.of(w)
			var theirs []Term
			for _, t := range terms {
				theirs = append(theirs, other.Term(t.Coord))
			}
			o, err := NewGauss(other, theirs)
			require.NoError(t, err)
			parts = append(parts, math.Log(u.share)+o.LogDensity(l, v))
			left -= u.share
		}
		parts = append(parts, math.Log(left)+logP)
		assert.InDelta(t, floats.LogSumExp(parts), g.Law(l, moves, logP), 1e-8)
		assert.GreaterOrEqual(t, g.Law(l, moves, logP), LeastLaw(logP))
	}
}
