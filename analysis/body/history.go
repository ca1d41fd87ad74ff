package body

import (
	"math"
	"sort"

	"lastroom/analysis/form"

	"gonum.org/v1/gonum/mat"
)

// An Earlier is an earlier form of the same customer.
type Earlier struct {
	Form  Form
	Years float64 // before the form that is judged; negative is taken as 0
}

// maxEarlier is how many earlier forms, the newest, tighten the expectation.
const maxEarlier = 2

// tightened is the joint model of the first n coordinates of a layout given
// the earlier forms: the same body and the same sides, wandering with time,
// measured anew. Nil where there is nothing earlier to go by.
func (m *Model) tightened(lay *layout, n int, channel form.Channel, past []Earlier) (gs []*gauss) {
	past = newest(past)
	for _, sex := range lay.sexes {
		w := newWorld(sex, m.measuring[channel], lay.step)
		var terms []term
		for _, c := range lay.coords[:n] {
			terms = append(terms, w.term(c))
		}
		var l []float64
		for k, p := range past {
			var in intake
			for i := range p.Form.Numbers {
				in.add(m.scheme, &p.Form.Numbers[i], i)
			}
			for i, code := range in.codes {
				t := w.term(coordOf(code))
				t.form, t.years = k+1, math.Max(0, p.Years)
				terms = append(terms, t)
				l = append(l, math.Log(in.mm[i]))
			}
		}
		if len(l) == 0 {
			return nil
		}
		g := given(w, terms, l)
		if g == nil {
			return nil
		}
		gs = append(gs, g)
	}
	return gs
}

// historyScore is the alarm score given the earlier forms. The tail of the
// core score among good forms is taken to be the one without history; a test
// holds that to good repeated forms.
func (a *Auditor) historyScore(lay *layout, full []*gauss, hyps *hypotheses, channel form.Channel, past []Earlier, ex [2]int) float64 {
	score := max(a.beyondScore(lay, lay.full, ex), 0)
	if lay.beyond > 0 {
		_, lr := lay.equalSides(a.sc.y, len(lay.coords))
		score = max(score, lay.mixedRatio(&a.sc, full, hyps, 0, ex, lr)/math.Ln10)
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
	return max(score, lay.tail.odd(lay.coreScore(&a.sc, foot, &coreHyps, ex)))
}

func newest(past []Earlier) []Earlier {
	past = append([]Earlier(nil), past...)
	sort.SliceStable(past, func(i, j int) bool { return past[i].Years < past[j].Years })
	return past[:min(len(past), maxEarlier)]
}

// given is the joint model of the first terms given that the last ones have
// logarithms l: its precision is that block of the whole precision matrix.
func given(w *world, terms []term, l []float64) *gauss {
	all, err := newGauss(w, terms)
	if err != nil {
		return nil
	}
	n := all.n - len(l)
	g := &gauss{n: n, typic: all.typic[:n], sd: make([]float64, n)}
	block := mat.NewSymDense(n, nil)
	push := mat.NewVecDense(n, nil) // -P_ce (l - mean_e)
	for i := range n {
		for j := range n {
			p := all.prec[i*all.n+j]
			g.prec = append(g.prec, p)
			if j >= i {
				block.SetSym(i, j, p)
			}
		}
		s := 0.0
		for k, x := range l {
			s -= all.prec[i*all.n+n+k] * (x - all.mean[n+k])
		}
		push.SetVec(i, s)
	}
	var ch mat.Cholesky
	if !ch.Factorize(block) {
		return nil
	}
	var move mat.VecDense
	cov := mat.NewSymDense(n, nil)
	if ch.SolveVecTo(&move, push) != nil || ch.InverseTo(cov) != nil {
		return nil
	}
	for i := range n {
		g.mean = append(g.mean, all.mean[i]+move.AtVec(i))
		g.sd[i] = math.Sqrt(cov.At(i, i))
	}
	g.logC = -float64(n)/2*math.Log(2*math.Pi) + ch.LogDet()/2
	return g
}
