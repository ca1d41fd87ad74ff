package body

import "sort"

// A Doubt is one explanation of one number.
type Doubt struct {
	Index       int     // into Check.Readings
	Explanation int     // into Check.Explanations
	Posterior   float64 // share of that explanation
	Suggested   float64 // what the number would have been, mm; NaN: not to be told
	Gain        float64 // shares of all explanations that touch this number, each spread evenly over its numbers: what taking it again would settle
}

// Doubts lists the doubts of a check: the number whose re-measuring would gain
// most first, under each number its explanations by share. Explanations under
// least (a posterior share) are left out.
func (c *Check) Doubts(least float64) (out []Doubt) {
	gain := make([]float64, len(c.Readings))
	for _, e := range c.Explanations {
		for _, ch := range e.Changes {
			gain[ch.Index] += e.Share / float64(len(e.Changes))
		}
	}
	for k, e := range c.Explanations {
		if e.Share < least {
			continue
		}
		for _, ch := range e.Changes {
			out = append(out, Doubt{ch.Index, k, e.Share, ch.MM, gain[ch.Index]})
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Gain != b.Gain {
			return a.Gain > b.Gain
		}
		if a.Index != b.Index {
			return a.Index < b.Index
		}
		return a.Posterior > b.Posterior
	})
	return out
}
