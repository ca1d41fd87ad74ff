package risk

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"lastroom/analysis/regression"
)

// Eight measurers of 60 orders each, from 2 to 16 of them remade, beside a ninth that the others stand against. The
// variance found is the one of the largest marginal likelihood in the quadratic approximation, by trying: with the information H
// at the estimates and what they solve, H b = z, it is (m log k - log|H + K| + z'(H + K)^-1 z)/2, K the penalty k on
// the diagonal of the m effects (Schall R (1991) Biometrika 78:719-727).
func TestSpreadOfMeasurersByTrying(t *testing.T) {
	const orders, measurers = 60, 8
	remade := []int{8, 2, 4, 6, 8, 10, 12, 14, 16}
	var values [][]float64
	for k := range measurers + 1 {
		v := make([]float64, measurers)
		if k > 0 {
			v[k-1] = 1
		}
		values = append(values, v)
	}
	names := []string{"a", "b", "c", "d", "e", "f", "g", "h"}
	clusters := make([]int32, orders*len(remade))
	for i := range clusters {
		clusters[i] = int32(i)
	}
	d := regression.NewDesign(regression.Subjects{N: len(clusters), Age: func(int) int { return 365 }, Edges: []int{365}, Cluster: clusters,
		Event: func(i int) (int, bool) { return 365, i%orders < remade[i/orders] }, Keep: func(int) bool { return true }},
		[]regression.Term{{Names: names, Values: values, Code: func(i int) int { return i / orders }}}, nil)
	x := &fitted{Model: &Model{Terms: []term{{Name: measuredBy, Columns: names}}}, d: d}
	own := x.measurerColumns()
	require.Len(t, own, measurers)
	s, spread := shrinkage{tau: 1, measurer: 4}, make([]float64, measurers+1)
	require.NoError(t, x.refit(d.Whole(), spread, own, s, nil))
	x.folds = regression.NewFolds(x.fit, folds, nil)
	found := x.spreadOf(own, spread, s)

	// Information and score by hand from the fitted risks: the first row and column are the intercept's.
	h, z := mat.NewSymDense(measurers+1, nil), mat.NewVecDense(measurers+1, nil)
	for k, events := range remade {
		eta := x.fit.Coef[0]
		if k > 0 {
			eta += x.fit.Coef[k]
		}
		r := 1 / (1 + math.Exp(-eta))
		w := orders * r * (1 - r)
		push := float64(events) - orders*r + w*eta
		h.SetSym(0, 0, h.At(0, 0)+w)
		z.SetVec(0, z.AtVec(0)+push)
		if k > 0 {
			h.SetSym(k, k, w)
			h.SetSym(0, k, w)
			z.SetVec(k, push)
		}
	}
	marginal := func(k float64) float64 {
		a := mat.NewSymDense(measurers+1, nil)
		a.CopySym(h)
		for j := 1; j <= measurers; j++ {
			a.SetSym(j, j, a.At(j, j)+k)
		}
		var chol mat.Cholesky
		require.True(t, chol.Factorize(a))
		var b mat.VecDense
		require.NoError(t, chol.SolveVecTo(&b, z))
		return (measurers*math.Log(k) - chol.LogDet() + mat.Dot(z, &b)) / 2
	}
	best := 0.1
	for k := 0.1; k < 100; k *= 1.005 {
		if marginal(k) > marginal(best) {
			best = k
		}
	}
	t.Logf("found %.3f, by trying %.3f", found, best)
	assert.InEpsilon(t, best, found, 0.03) // a round that moves it by under 1 in 100 is the last
	assert.Equal(t, 7.0, x.spreadOf(nil, spread, shrinkage{measurer: 7}), "nobody to tell it from")
}
