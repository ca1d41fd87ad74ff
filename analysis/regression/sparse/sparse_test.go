package sparse

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// some are rows of three columns of ones and two terms with shapes, of which the second
// stands between the ones, and the same as gonum has them.
func some(rng *rand.Rand, n int) (Rows, *mat.Dense) {
	x := Rows{P: 8, Series: []Series{{0, 30}, {30, 50}}}
	for range 30 {
		x.Shapes = append(x.Shapes, Shape{1, []float64{rng.NormFloat64(), rng.NormFloat64()}})
	}
	for range 20 {
		x.Shapes = append(x.Shapes, Shape{4, []float64{rng.NormFloat64(), rng.NormFloat64()}})
	}
	whole := mat.NewDense(n, x.P, nil)
	for i := range n {
		whole.Set(i, 0, 1)
		x.From = append(x.From, int32(len(x.Ones)))
		for _, c := range []uint16{3, 6, 7} {
			if rng.IntN(2) == 0 {
				x.Ones = append(x.Ones, c)
				whole.Set(i, int(c), 1)
			}
		}
		x.Ends = append(x.Ends, int32(len(x.Ones)))
		for _, of := range x.Series {
			s := of.First + rng.IntN(of.End-of.First)
			x.Shape = append(x.Shape, int32(s))
			for k, v := range x.Shapes[s].Values {
				whole.Set(i, x.Shapes[s].Column+k, v)
			}
		}
	}
	return x, whole
}

// What is worked out by ones and shapes is what gonum's dense matrices give.
func TestAgainstDense(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 0))
	const n = 400
	x, whole := some(rng, n)
	b, s, all := mat.NewVecDense(x.P, nil), mat.NewVecDense(n, nil), make([]int32, n)
	for j := range x.P {
		b.SetVec(j, rng.NormFloat64())
	}
	for i := range n {
		s.SetVec(i, rng.Float64())
		all[i] = int32(i)
	}
	var linear, score, info, half mat.Dense
	linear.Mul(whole, b)
	score.Mul(whole.T(), s)
	half.Apply(func(i, _ int, v float64) float64 { return v * s.AtVec(i) }, whole)
	info.Mul(whole.T(), &half)

	sums, scores, times, odds, form := x.Sums(), x.Scores(), x.Times(b.RawVector().Data), make([]float64, n), x.Quadratic(info.RawMatrix().Data)
	x.Odds(b.RawVector().Data, all, odds)
	for i := range n {
		sums.AddScore(i, s.AtVec(i))
		sums.AddInformation(i, s.AtVec(i))
		scores.AddScore(i, s.AtVec(i))
		row, dense := whole.RowView(i), make([]float64, x.P)
		for _, c := range x.Dense(i, dense, nil) {
			assert.Equal(t, whole.At(i, c), dense[c])
			dense[c] = 0
		}
		assert.Equal(t, make([]float64, x.P), dense, "columns with something are all returned")
		assert.InDelta(t, linear.At(i, 0), times.At(i), 1e-12)
		assert.InDelta(t, linear.At(i, 0), x.Linear(i, b.RawVector().Data), 1e-12)
		assert.InEpsilon(t, math.Exp(linear.At(i, 0)), odds[i], 1e-12)
		assert.InEpsilon(t, mat.Inner(row, &info, row), form.At(i), 1e-11)
	}
	sums.SettleScore()
	sums.SettleInformation()
	scores.SettleScore()
	assert.Equal(t, sums.Score, scores.Score)
	for j := range x.P {
		assert.InDelta(t, score.At(j, 0), sums.Score[j], 1e-10)
		for k := range j + 1 {
			assert.InDelta(t, info.At(j, k), sums.Info[j*x.P+k], 1e-10)
		}
	}
	// Products that could overflow are taken for as far as odds reach.
	b.ScaleVec(400, b)
	x.Odds(b.RawVector().Data, all, odds)
	for i, o := range odds {
		assert.InEpsilon(t, math.Exp(math.Max(-Reach, math.Min(Reach, 400*linear.At(i, 0)))), o, 1e-9)
	}
}

// A factor solves and inverts as gonum's Cholesky does. A column that earlier ones make
// up is set aside, the later of the two, and the others are solved without it.
func TestFactor(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	_, whole := some(rng, 200)
	const p = 8
	solved := func(m *mat.SymDense, b []float64) (x []float64, inverse *mat.SymDense) {
		var chol mat.Cholesky
		require.True(t, chol.Factorize(m))
		var to mat.VecDense
		inverse = new(mat.SymDense)
		require.NoError(t, chol.SolveVecTo(&to, mat.NewVecDense(len(b), b)))
		require.NoError(t, chol.InverseTo(inverse))
		return to.RawVector().Data, inverse
	}
	var m mat.SymDense
	m.SymOuterK(1, whole.T())
	b := []float64{1, -2, 3, 0.5, 2, 1, -1, 0.1}
	f := NewFactor(p)
	f.Take(mat.DenseCopyOf(&m).RawMatrix().Data)
	x, inverse := solved(&m, b)
	assert.InDeltaSlice(t, x, f.Solve(b), 1e-11)
	assert.InDeltaSlice(t, mat.DenseCopyOf(inverse).RawMatrix().Data, f.Inverse(), 1e-11)

	twice := mat.NewDense(200, p+1, nil) // the fourth column stands again as the fifth
	for j, from := range []int{0, 1, 2, 3, 3, 4, 5, 6, 7} {
		for i := range 200 {
			twice.Set(i, j, whole.At(i, from))
		}
	}
	var n mat.SymDense
	n.SymOuterK(1, twice.T())
	g := NewFactor(p + 1)
	g.Take(mat.DenseCopyOf(&n).RawMatrix().Data)
	assert.Equal(t, []bool{false, false, false, false, true, false, false, false, false}, g.Aside)
	got := g.Solve([]float64{1, -2, 3, 0.5, 99, 2, 1, -1, 0.1})
	assert.Zero(t, got[4])
	assert.InDeltaSlice(t, x, append(got[:4:4], got[5:]...), 1e-11)
	for j := range p + 1 {
		assert.Zero(t, g.Inverse()[4*(p+1)+j])
	}
}
