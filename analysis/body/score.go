package body

import (
	"math"

	"lastroom/analysis/body/human"
)

// judge scores the numbers in s.y (in the layout's order) on the first n
// coordinates. It leaves the ln likelihood ratio of each hypothesis, the sexes
// mixed, in s.lr and returns the share of each sex under "nothing wrong".
func (lay *layout) judge(s *scratch, gs []*human.Gauss, hyps *hypotheses, ex [2]int, copiedLR float64) (sexes [2]float64) {
	var p, law [2]float64
	for k, g := range gs {
		p[k] = g.Weigh(s.l, s.v)
		law[k] = g.Law(s.l, s.kinds, p[k])
		lr := s.lr
		if k > 0 {
			lr = s.lr2
		}
		s.ratios(hyps, 0, g, k, ex, copiedLR, p[k], lr)
	}
	if len(gs) == 1 {
		for k := range hyps.list {
			s.lr[k] += p[0] - law[0]
		}
		return [2]float64{1, 0}
	}
	// The sexes are equally likely beforehand: judgement.
	both := logSum(law[0], law[1])
	for k := range hyps.list {
		s.lr[k] = logSum(p[0]+s.lr[k], p[1]+s.lr2[k]) - both
	}
	return [2]float64{math.Exp(law[0] - both), math.Exp(law[1] - both)}
}

func logSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if b <= never/2 || math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// meanRatio is the logarithm of the weighted mean likelihood ratio.
func meanRatio(weight, lr []float64) float64 {
	lr = lr[:len(weight)]
	top := never
	for _, x := range lr {
		if x > top { // max minds NaN, and takes five times as long
			top = x
		}
	}
	if top == never {
		return never
	}
	sum := 0.0
	for k, x := range lr {
		if x > top-25 {
			sum += weight[k] * math.Exp(x-top)
		}
	}
	return top + math.Log(sum)
}

// equalSides says whether left and right agree on every one of the first n
// coordinates' pairs, and the ln likelihood ratio of copying if they do.
func (lay *layout) equalSides(y []float64, n int) (all bool, lr float64) {
	count := 0
	for k, p := range lay.pairs {
		if p[0] >= n || p[1] >= n {
			continue
		}
		if math.Abs(y[p[0]]-y[p[1]]) > 1e-6 {
			return false, never
		}
		count++
		w := 1.0
		if p[0] >= lay.nCore {
			w = 0.5 // leg rows of one leg go together, so each says less: judgement
		}
		lr -= w * math.Log(equalChance(lay.step, lay.pairSD[k]))
	}
	if count == 0 {
		return false, never
	}
	return true, lr
}

// coreScore is the alarm score of the core numbers before it is put on the
// scale of good forms: ln of the mean likelihood ratio, the sexes mixed. One of
// at most enough need not be exact, as in mixedRatio.
func (lay *layout) coreScore(s *scratch, gs []*human.Gauss, hyps *hypotheses, ex [2]int, enough float64) float64 {
	_, lr := lay.equalSides(s.y, lay.nCore)
	return lay.mixedRatio(s, gs, hyps, 0, ex, lr, enough)
}

// mixedRatio is meanRatio of the hypotheses from the first on, the sexes
// mixed, without keeping each hypothesis apart. A ratio of at most enough may
// come out larger, never above enough: the unusual people, who can but lower
// it, are then not looked at.
func (lay *layout) mixedRatio(s *scratch, gs []*human.Gauss, hyps *hypotheses, first int, ex [2]int, copiedLR, enough float64) float64 {
	var p, law, r [2]float64
	for k, g := range gs {
		p[k] = g.Weigh(s.l, s.v)
		s.ratios(hyps, first, g, k, ex, copiedLR, p[k], s.lr)
		r[k] = p[k] + meanRatio(hyps.weight[first:], s.lr[first:])
		law[k] = human.LeastLaw(p[k])
	}
	if len(gs) == 1 {
		if most := r[0] - law[0]; most <= enough {
			return most
		}
		return r[0] - gs[0].Law(s.l, s.kinds, p[0])
	}
	wrong := logSum(r[0], r[1])
	if most := wrong - logSum(law[0], law[1]); most <= enough {
		return most
	}
	for k, g := range gs {
		law[k] = g.Law(s.l, s.kinds, p[k])
	}
	return wrong - logSum(law[0], law[1])
}
