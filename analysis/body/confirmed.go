package body

import (
	"math"
	"slices"

	"lastroom/analysis/form"
)

// A confirmed is what a shop's confirmed forms of a channel (boots were made from
// them and kept without a complaint) say of how odd good forms are there: their
// number, and the scores above leastOdd, in order.
type confirmed struct {
	forms  int
	scores []float64
}

// leastOdd is the lowest score that is kept: one good form in ten. A limit that
// questions more is no limit.
const leastOdd = 1.0

// widened is the score of a form in a shop with these confirmed forms. The
// published share of forms that reach a score counts as that of publishedAs
// forms, each confirmed form as one; a score only goes down by it.
func (c confirmed) widened(score float64) float64 {
	if c.forms == 0 || !(score > leastOdd) {
		return score
	}
	under, _ := slices.BinarySearch(c.scores, score)
	share := (publishedAs*math.Pow(10, -score) + float64(len(c.scores)-under)) / (publishedAs + float64(c.forms))
	return min(score, max(leastOdd, -math.Log10(share)))
}

// confirm scores a shop's confirmed forms of a channel.
func (c *ChannelCalibration) confirm(s form.Scheme, forms []form.Form) {
	m := NewModel(s)
	m.measuring[c.Channel] = c.used
	a := m.NewAuditor(DefaultFalseAlarms)
	var in Batch
	for _, f := range forms {
		for _, n := range f.Numbers {
			in.Add(n)
		}
		in.EndForm(f.Sex, f.Channel)
	}
	for _, e := range a.Audit(&in, nil) {
		if math.IsNaN(e.Score) {
			continue
		}
		c.odd.forms++
		if e.Score > leastOdd {
			c.odd.scores = append(c.odd.scores, e.Score)
		}
		if e.Score >= a.alarm {
			c.Questioned++
		}
	}
	slices.Sort(c.odd.scores)
}
