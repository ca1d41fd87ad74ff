package regression

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A subject's row holds what its terms and exposures say of it, and an added exposure's.
func TestRowsOfADesign(t *testing.T) {
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
	factor := [][]float64{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	d := NewDesign(Subjects{
		N: n, Age: func(i int) int { return age[i] }, Edges: []int{30, 180, 365}, Cluster: make([]int32, n),
		Event: func(i int) (int, bool) { return 0, false },
	}, []Term{
		{Names: []string{"height", "height squared"}, Values: curve(60), Code: func(i int) int { return codes[i][0] }},
		{Names: []string{"a", "b", "c"}, Values: factor, Code: func(i int) int { return codes[i][1] }},
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
		for k, subject := range d.Subject {
			pattern := d.Pattern(k)
			z, of := codes[subject], make([]float64, x.P)
			want := append([]float64{1}, curve(60)[z[0]]...)
			want = append(want, factor[z[1]]...)
			want = append(want, curve(36)[z[2]]...)
			if c.Exposures {
				for e := range 2 {
					l := level[subject][e]
					for _, has := range []struct {
						col int
						is  Level
					}{{d.withCol[e], With}, {d.mendedCol[e], Mended}, {d.blankCol[e], Unknown}} {
						if has.col >= 0 {
							assert.Len(t, want, has.col, "columns follow each other")
							want = append(want, map[bool]float64{true: 1}[l == has.is])
						}
					}
				}
			}
			if c.Added != nil {
				want = append(want, map[Level][]float64{Clean: {0, 0}, With: {1, 0}, Unknown: {0, 1}}[added[pattern]]...)
			}
			x.Dense(pattern, of, nil)
			if !assert.Equal(t, want, of[:len(want)]) {
				return
			}
			for _, rest := range of[len(want):] {
				assert.Zero(t, rest)
			}
		}
	}
}
