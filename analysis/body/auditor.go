package body

import (
	"math"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// DefaultFalseAlarms is the share of good forms that raise an alarm, unless
// another is asked for.
const DefaultFalseAlarms = 0.01

// An Auditor judges many forms in one pass. It holds scratch space: one
// goroutine at a time. Auditors of one Model share its tables and may run side
// by side.
type Auditor struct {
	model   *Model
	share   float64
	alarm   float64 // the score that raises one
	layouts map[string]*layout
	in      intake
	sc      scratch
}

// NewAuditor returns an auditor that alarms at the given false-alarm share
// (DefaultFalseAlarms where it is not between 0 and 1).
func (m *Model) NewAuditor(falseAlarms float64) *Auditor {
	if !(falseAlarms > 0 && falseAlarms < 1) {
		falseAlarms = DefaultFalseAlarms
	}
	return &Auditor{model: m, share: falseAlarms, alarm: -math.Log10(falseAlarms), layouts: map[string]*layout{}}
}

// Audit appends the evidence of each form of b to out and returns it. The same
// forms give the same evidence, in whatever pieces they come.
func (a *Auditor) Audit(b *Batch, out []Evidence) []Evidence {
	at := 0
	for i, end := range b.End {
		a.in.reset()
		for ; at < min(end, len(b.MM)); at++ {
			n := form.Number{Place: form.Place{Side: b.Side[at], Clothing: b.Clothing[at], Point: b.Point[at]}, ValueMM: b.MM[at], Unit: b.Unit[at]}
			if n.Point == form.Leg {
				n.HeightMM = form.Height(b.Height[at])
			}
			a.in.add(a.model.scheme, &n, at)
		}
		out = append(out, a.judge(b.Sex[i], b.Channel[i]))
	}
	return out
}

// spec is the set of numbers of the form taken in.
func (a *Auditor) spec(sex form.Sex, channel form.Channel) layoutSpec {
	return layoutSpec{codes: a.in.codes, sex: human.Known(sex), channel: min(channel, form.Shop), step: readingStep(a.in.mm, a.in.units)}
}

// layoutOf finds the layout of the form taken in, or nil.
func (a *Auditor) layoutOf(sex form.Sex, channel form.Channel) *layout {
	in := &a.in
	if len(in.codes) == 0 {
		return nil
	}
	s := a.spec(sex, channel)
	in.key = s.key(in.key)
	if lay, ok := a.layouts[string(in.key)]; ok {
		return lay
	}
	s.codes = append([]uint32(nil), in.codes...)
	lay := a.model.layout(s, in.key)
	if len(a.layouts) >= maxLayouts {
		clear(a.layouts)
	}
	a.layouts[string(in.key)] = lay
	return lay
}

// judge gives the evidence of the form taken in.
func (a *Auditor) judge(sex form.Sex, channel form.Channel) Evidence {
	lay := a.layoutOf(sex, channel)
	if lay == nil {
		ev := unjudged
		if a.in.impossible > 0 {
			ev.ValueImplausible = Yes
		}
		return ev
	}
	a.sc.grow(len(lay.coords), max(len(lay.fullHyps.list), len(lay.coreHyps.list)))
	copy(a.sc.y, a.in.mm)
	ex := a.sc.prepare(lay.girths, a.in.units)
	ev := Evidence{Score: a.model.confirmed[min(channel, form.Shop)].widened(a.score(lay, ex)), OutOfRange: Unjudged}
	if lay.nCore > 0 {
		ev.OutOfRange = answer(lay.spread.odd(lay.rangeScore(a.sc.l)) >= -math.Log10(DefaultFalseAlarms))
	}
	a.answers(lay, lay.full, &lay.fullHyps, ex, &ev)
	if a.in.impossible > 0 {
		ev.ValueImplausible = Yes
	}
	return ev
}

// score is the alarm score: the larger of the core numbers' and the others'.
func (a *Auditor) score(lay *layout, ex [2]int) float64 {
	score := a.beyondScore(lay, lay.full, ex)
	if lay.nCore > 0 {
		score = max(score, lay.tail.odd(lay.coreScore(&a.sc, lay.core, &lay.coreHyps, ex, lay.tail.zero())))
	}
	return score
}

// beyondScore is that of the numbers beyond the core. It is conservative: the
// mean likelihood ratio has expectation 1 among good forms, so at most a share
// 1/x of them reach x (Markov's inequality), whatever the heights.
func (a *Auditor) beyondScore(lay *layout, gs []*human.Gauss, ex [2]int) float64 {
	if lay.beyond == 0 {
		return 0
	}
	least := math.Log(lay.beyond) // below it the score is 0
	return max(0, (lay.mixedRatio(&a.sc, gs, &lay.fullHyps, lay.fullHyps.beyond, ex, never, least)-least)/math.Ln10)
}

// honestEqual is the chance of equal sides among honest forms under which
// equal sides are taken as copied; above it they say nothing.
const honestEqual = 0.005

// answers says which faults the numbers show.
func (a *Auditor) answers(lay *layout, gs []*human.Gauss, hyps *hypotheses, ex [2]int, ev *Evidence) {
	equal, lr := lay.equalSides(a.sc.y, len(lay.coords))
	switch {
	case len(lay.pairs) > 0 && !equal:
		ev.SidesCopied = No
	case equal && math.Exp(-lr) < honestEqual:
		ev.SidesCopied = Yes
	}
	ev.UnitMixed, ev.ValueImplausible, ev.TapeZeroShown = No, No, No
	if lay.families&(1<<tapeStart) == 0 {
		ev.TapeZeroShown = Unjudged
	}
	if ev.Score < a.alarm {
		return
	}
	shares := lay.familyShares(&a.sc, gs, hyps, ex, lr)
	ev.UnitMixed = answer(shares[unit] >= 0.5)
	ev.ValueImplausible = answer(shares[copied] < 0.5)
	if lay.families&(1<<tapeStart) != 0 {
		ev.TapeZeroShown = answer(shares[tapeStart] >= 0.5)
	}
}

func answer(yes bool) Answer {
	if yes {
		return Yes
	}
	return No
}

// familyShares is how the explanations other than "nothing wrong" share out.
func (lay *layout) familyShares(s *scratch, gs []*human.Gauss, hyps *hypotheses, ex [2]int, copiedLR float64) (shares [families]float64) {
	lay.judge(s, gs, hyps, ex, copiedLR)
	total := meanRatio(hyps.weight, s.lr)
	for k := range hyps.list {
		shares[hyps.list[k].family] += hyps.weight[k] * math.Exp(s.lr[k]-total)
	}
	return shares
}

// A Batch is many forms in columns: End[i] is the index just past the last
// number of form i, so the numbers of a form lie together. Height is read for
// Leg only. Sex and Channel have one entry a form, the others one a number.
type Batch struct {
	End     []int
	Sex     []form.Sex
	Channel []form.Channel

	Side     []form.Side
	Clothing []form.Clothing
	Point    []form.Point
	Height   []float64
	MM       []float64
	Unit     []form.Unit
}

// Reset empties the batch and keeps its memory.
func (b *Batch) Reset() {
	b.End, b.Sex, b.Channel = b.End[:0], b.Sex[:0], b.Channel[:0]
	b.Side, b.Clothing, b.Point = b.Side[:0], b.Clothing[:0], b.Point[:0]
	b.Height, b.MM, b.Unit = b.Height[:0], b.MM[:0], b.Unit[:0]
}

// Add appends a number to the form that is being filled.
func (b *Batch) Add(n form.Number) {
	b.Side = append(b.Side, n.Side)
	b.Clothing = append(b.Clothing, n.Clothing)
	b.Point = append(b.Point, n.Point)
	b.Height = append(b.Height, float64(n.HeightMM))
	b.MM = append(b.MM, n.ValueMM)
	b.Unit = append(b.Unit, n.Unit)
}

// EndForm closes the form that is being filled.
func (b *Batch) EndForm(sex form.Sex, channel form.Channel) {
	b.End = append(b.End, len(b.MM))
	b.Sex = append(b.Sex, sex)
	b.Channel = append(b.Channel, channel)
}

// Len is the number of closed forms.
func (b *Batch) Len() int { return len(b.End) }
