package regression

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"
)

// What is worked out by ones and shapes is what gonum's dense matrices give, with two
// curves, a factor, exposures and an added one.
func TestRowsAgainstDense(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 0))
	const n = 6000 // more patterns than a stretch
	age, codes, level := make([]int, n), make([][3]int, n), make([][2]Level, n)
	for i := range n {
		age[i] = []int{40, 200, 400}[rng.IntN(3)]
		codes[i] = [3]int{rng.IntN(60), rng.IntN(4), rng.IntN(36)}
		level[i] = [2]Level{Level(rng.IntN(int(NotAtRisk) + 1)), Level(rng.IntN(2))}
	}
	curve := func(codes int) (values [][]float64) {
		for k := range codes {
			z := float64(k)/float64(codes) - 0.5
			values = append(values, []float64{z, z * z})
		}
		return values
	}
	d := NewDesign(Subjects{
		N: n, Age: func(i int) int { return age[i] }, Edges: []int{30, 180, 365}, Cluster: make([]int32, n),
		Event: func(i int) (int, bool) { return 0, false },
	}, []Term{
		{Names: []string{"height", "height squared"}, Values: curve(60), Code: func(i int) int { return codes[i][0] }},
		{Names: []string{"a", "b", "c"}, Values: [][]float64{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, Code: func(i int) int { return codes[i][1] }},
		{Names: []string{"time", "time squared"}, Values: curve(36), Code: func(i int) int { return codes[i][2] }},
	}, []Exposure{{Name: "x", Level: func(i int) Level { return level[i][0] }}, {Name: "y", Level: func(i int) Level { return level[i][1] }}})
	added := make([]Level, d.Patterns())
	for i := range added {
		added[i] = []Level{Clean, With, Unknown}[rng.IntN(3)]
	}
	assert.Greater(t, d.Patterns(), stretch)
	for k, slot := range d.slot { // a pattern is still that of its subject
		assert.Equal(t, level[d.Subject[k]][0], d.Levels(0)[slot/2])
	}
	for _, c := range []Columns{{}, {Exposures: true}, {Exposures: true, Added: added}} {
		x := d.rows(c)
		whole := mat.NewDense(d.Patterns(), x.p, nil)
		for i := range d.Patterns() {
			x.dense(i, whole.RawRowView(i), nil)
			if c.Added != nil {
				assert.Equal(t, map[Level][]float64{Clean: {0, 0}, With: {1, 0}, Unknown: {0, 1}}[added[i]], whole.RawRowView(i)[x.p-2:])
			}
		}
		b, s := mat.NewVecDense(x.p, nil), mat.NewVecDense(d.Patterns(), nil)
		for j := range x.p {
			b.SetVec(j, rng.NormFloat64())
		}
		for i := range d.Patterns() {
			s.SetVec(i, rng.Float64())
		}
		var linear, score, info, half mat.Dense
		linear.Mul(whole, b)
		score.Mul(whole.T(), s)
		half.Apply(func(i, _ int, v float64) float64 { return v * s.AtVec(i) }, whole)
		info.Mul(whole.T(), &half)

		sums, times, odds, form := x.sums(), x.times(b.RawVector().Data), make([]float64, d.Patterns()), x.quadratic(info.RawMatrix().Data)
		x.odds(b.RawVector().Data, d.patterns(), odds)
		for i := range d.Patterns() {
			sums.addScore(i, s.AtVec(i))
			sums.addInformation(i, s.AtVec(i))
			row := whole.RowView(i)
			assert.InDelta(t, linear.At(i, 0), times.at(i), 1e-12)
			assert.InEpsilon(t, math.Exp(linear.At(i, 0)), odds[i], 1e-12)
			assert.InEpsilon(t, mat.Inner(row, &info, row), form.at(i), 1e-11)
		}
		sums.settleScore()
		sums.settleInformation()
		for j := range x.p {
			assert.InDelta(t, score.At(j, 0), sums.score[j], 1e-9)
			for k := range j + 1 {
				assert.InDelta(t, info.At(j, k), sums.info[j*x.p+k], 1e-9)
			}
		}
		// Products that could overflow are taken for as far as odds reach.
		b.ScaleVec(400, b)
		x.odds(b.RawVector().Data, d.patterns(), odds)
		for i, o := range odds {
			assert.InEpsilon(t, math.Exp(math.Max(-reach, math.Min(reach, 400*linear.At(i, 0)))), o, 1e-9)
		}
	}
}
