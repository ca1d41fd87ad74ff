package body

import (
	"math"
	"sort"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// An Earlier is an earlier form of the same customer.
type Earlier struct {
	Form  form.Form
	Years float64 // before the form that is judged; negative is taken as 0
}

// maxEarlier is how many earlier forms, the newest, tighten the expectation.
const maxEarlier = 2

// tightened is the joint model of the first n coordinates of a layout given
// the earlier forms: the same body and the same sides, wandering with time,
// measured anew. Nil where there is nothing earlier to go by.
func (m *Model) tightened(lay *layout, n int, channel form.Channel, past []Earlier) (gs []*human.Gauss) {
	past = newest(past)
	for _, sex := range lay.sexes {
		w := human.NewWorld(sex, m.measuring[channel], lay.step)
		var terms []human.Term
		for _, c := range lay.coords[:n] {
			terms = append(terms, w.Term(c))
		}
		var l []float64
		for k, p := range past {
			var in intake
			for i := range p.Form.Numbers {
				in.add(m.scheme, &p.Form.Numbers[i], i)
			}
			for i, code := range in.codes {
				t := w.Term(human.CoordOf(code))
				t.Form, t.Years = k+1, math.Max(0, p.Years)
				terms = append(terms, t)
				l = append(l, math.Log(in.mm[i]))
			}
		}
		if len(l) == 0 {
			return nil
		}
		g := human.Given(w, terms, l)
		if g == nil {
			return nil
		}
		g.AddUnusual(w, terms, l)
		gs = append(gs, g)
	}
	return gs
}

// historyScore is the alarm score given the earlier forms. The tail of the
// core score among good forms is taken to be the one without history; a test
// holds that to good repeated forms.
func (a *Auditor) historyScore(lay *layout, full []*human.Gauss, hyps *hypotheses, channel form.Channel, past []Earlier, ex [2]int) float64 {
	score := max(a.beyondScore(lay, lay.full, ex), 0)
	if lay.beyond > 0 {
		_, lr := lay.equalSides(a.sc.y, len(lay.coords))
		score = max(score, lay.mixedRatio(&a.sc, full, hyps, 0, ex, lr, math.Inf(-1))/math.Ln10)
	}
	if lay.nCore == 0 {
		return score
	}
	foot := full
	if lay.beyond > 0 {
		if foot = a.model.tightened(lay, lay.nCore, channel, past); foot == nil {
			foot = lay.core
		}
	}
	coreHyps := lay.coreHyps.withQuads(foot)
	return max(score, lay.tail.odd(lay.coreScore(&a.sc, foot, &coreHyps, ex, lay.tail.zero())))
}

func newest(past []Earlier) []Earlier {
	past = append([]Earlier(nil), past...)
	sort.SliceStable(past, func(i, j int) bool { return past[i].Years < past[j].Years })
	return past[:min(len(past), maxEarlier)]
}
