package regression

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The first controlled before-and-after: cholera deaths in south London in 1849 and
// 1854, in sub-districts whose water stayed as it was and in those where many houses
// got clean water in between. Snow J (1855) On the Mode of Communication of Cholera,
// Tables VIII and XII; Coleman T (2019), Causality in the Time of Cholera, lays them out
// as a difference in differences: per 10,000 people 134.86 to 146.61 and 130.10 to
// 84.86, 57.0 fewer, log ratio -0.511 (by arithmetic from the counts).
//
// The same on the logit scale by R's glm: interaction -0.516648 (0.0389442). What the
// treated would have been is the logit carried on (Puhani PA (2012) Econ Lett
// 115:85-87), by hand: 141.444 per 10,000, so 56.5859 fewer.
func TestDifferenceInDifferencesOfSnow(t *testing.T) {
	data := example(t, "snow_1855.csv")
	// Two subjects a cell, without and with an event, and the counts as weights.
	var joint, after, event []float64
	for k := range data["people"] {
		for e := range 2 {
			joint, after, event = append(joint, data["joint"][k]), append(after, data["after"][k]), append(event, float64(e))
		}
	}
	d, _ := plain(t, event, joint, after)
	term := func(v []float64) Term {
		return Term{Names: []string{"x"}, Values: [][]float64{{0}, {1}}, Code: func(i int) int { return int(v[i]) }}
	}
	treated := Exposure{Level: func(i int) Level { return Level(joint[i] * after[i]) }, Apart: true}
	d = NewDesign(Subjects{
		N: len(event), Edges: []int{365}, Cluster: d.Cluster, Age: func(int) int { return 400 },
		Event: func(i int) (int, bool) { return 10, event[i] == 1 },
	}, []Term{term(joint), term(after)}, []Exposure{treated})
	levels := make([]Level, d.Patterns())
	w := d.Whole()
	for k := range data["people"] {
		p := d.Pattern(2 * k)
		w.Slot[2*p], w.Slot[2*p+1] = data["people"][k]-data["deaths"][k], data["deaths"][k]
		levels[p] = Level(data["joint"][k] * data["after"][k])
	}
	f := d.newFit(Columns{Added: levels}, w)
	f.solve(500, 500, 1e-11)
	assert.InDeltaSlice(t, []float64{-4.292517267, -0.036408389, 0.084732630, -0.516647802}, f.Coef[:4], 5e-9)
	assert.InDelta(t, 0.0389442, errorOf(f, 3), 5e-8)
	q := f.AddedQuestion(0)
	for p, l := range levels {
		if l != With {
			q.Levels[p] = NotAtRisk // asked of the treated since then alone
		}
	}
	es, _ := Model{Fit: f, Questions: []Question{q}}.Standardise()
	assert.InDelta(t, 84.857854e-4, es[0].On, 5e-10)
	assert.InDelta(t, 141.443733e-4, es[0].Off, 5e-10)
	assert.InDelta(t, -56.585879e-4, es[0].Difference(), 5e-10)
}
