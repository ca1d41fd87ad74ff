package body

import (
	"math"

	"lastroom/analysis/body/human"
	"lastroom/analysis/care"
	"lastroom/analysis/form"
)

// A Reading is one number of a form judged by all the others.
type Reading struct {
	form.Number
	Judged    bool    // false: it can't be judged; Expected, Low, High are NaN
	Expected  float64 // given all the other numbers (and earlier forms), mm
	Low, High float64 // 95 % interval of the reading, mm
}

// A Change is what a number would have been under an explanation.
type Change struct {
	Index int     // into Check.Readings
	MM    float64 // the number it would have been; NaN: not to be told
}

// An Explanation is one way the numbers may have come about.
type Explanation struct {
	ID      string  // stable: tape-start, one-inch, digits, unit, exchanged, copied, …
	Words   string  // one plain sentence
	Share   float64 // posterior share; all explanations and NothingOff sum to 1
	Changes []Change
}

// A Check is all that is known of one form's numbers.
type Check struct {
	Evidence
	Judged      bool // some number could be judged
	Alarm       bool
	Basis       string  // whose offsets and spreads it was judged by
	FalseAlarms float64 // the share of good forms that Alarm was set to
	NothingOff  float64 // posterior share of "nothing wrong"; NaN where not judged
	Readings    []Reading
	// Explanations are ordered by share, those under minShare left out.
	Explanations []Explanation
	Notes        []string // what could not be judged, and why
	Cautions     []string // where the numbers may say something of health
}

const (
	// priorFault is the share of forms that have something wrong in their
	// numbers beforehand. Judgement: keying alone spoils 0.29 % of fields, so 6 %
	// of forms with 20 numbers (doc.go); the tape does the rest.
	priorFault = 0.2
	minShare   = 0.001
	// twoSided95 is the normal quantile of a 95 % interval.
	twoSided95 = 1.959963984540054
)

// Check judges one form in full at the given false-alarm share (0:
// DefaultFalseAlarms), with earlier forms of the same customer if there are any.
func (m *Model) Check(f form.Form, past []Earlier, falseAlarms float64) *Check {
	a := m.auditorOf(f, falseAlarms)
	c := &Check{FalseAlarms: a.share, NothingOff: math.NaN(), Readings: readingsOf(f.Numbers)}
	c.Evidence = a.judge(f.Sex, f.Channel)
	c.notes(m.scheme, f, &a.in)
	c.Basis = m.Basis()
	if lay := a.layoutOf(f.Sex, f.Channel); lay != nil {
		c.Judged = true
		ex := a.sc.prepare(lay.girths, a.in.units)
		channel := min(f.Channel, form.Shop)
		gs, hyps := lay.full, lay.fullHyps
		if tight := m.tightened(lay, len(lay.coords), channel, past); tight != nil {
			gs, hyps = tight, lay.fullHyps.withQuads(tight)
			c.Score = m.confirmed[channel].widened(a.historyScore(lay, gs, &hyps, channel, past, ex))
			a.answers(lay, gs, &hyps, ex, &c.Evidence)
		}
		c.explain(a, lay, gs, &hyps, ex)
	}
	c.Alarm = c.Score >= a.alarm || c.ValueImplausible == Yes && a.in.impossible > 0
	c.Cautions = care.Swelling(f)
	for _, p := range past {
		c.Cautions = append(c.Cautions, care.NewSwelling(f, p.Form, p.Years)...)
	}
	return c
}

// Evidence is that of [Model.Check] without earlier forms, had for a tenth of the work.
func (m *Model) Evidence(f form.Form, falseAlarms float64) Evidence {
	return m.auditorOf(f, falseAlarms).judge(f.Sex, f.Channel)
}

// SetOf names the set of numbers that a form has. What a model works out for a set it
// keeps for a while only: who judges many forms does so set by set.
func (m *Model) SetOf(f form.Form) string {
	return string(m.auditorOf(f, DefaultFalseAlarms).spec(f.Sex, f.Channel).key(nil))
}

// auditorOf has taken a form's numbers in.
func (m *Model) auditorOf(f form.Form, falseAlarms float64) *Auditor {
	a := m.NewAuditor(falseAlarms)
	for i := range f.Numbers {
		a.in.add(m.scheme, &f.Numbers[i], i)
	}
	return a
}

func readingsOf(numbers []form.Number) (out []Reading) {
	nan := math.NaN()
	for _, n := range numbers {
		out = append(out, Reading{Number: n, Expected: nan, Low: nan, High: nan})
	}
	return out
}

// explain fills in the expectations and the explanations.
func (c *Check) explain(a *Auditor, lay *layout, gs []*human.Gauss, hyps *hypotheses, ex [2]int) {
	s := &a.sc
	_, copiedLR := lay.equalSides(s.y, len(lay.coords))
	sexes := lay.judge(s, gs, hyps, ex, copiedLR)
	mean := meanRatio(hyps.weight, s.lr)
	wrong := 1 / (1 + math.Exp(-mean)*(1-priorFault)/priorFault)
	c.NothingOff = 1 - wrong
	c.expect(a, lay, gs, sexes)
	e := explainer{check: c, lay: lay, in: &a.in, sc: s, wrong: wrong, mean: mean, index: map[string]int{}}
	e.collect()
}

// expect fills in what each number should be given the others.
func (c *Check) expect(a *Auditor, lay *layout, gs []*human.Gauss, sexes [2]float64) {
	s := &a.sc
	type part struct{ mean, sd float64 }
	parts := make([][2]part, len(lay.coords))
	for k, g := range gs {
		g.Weigh(s.l, s.v)
		for i := range parts {
			parts[i][k].mean, parts[i][k].sd = g.Given(i, s.l, s.v)
		}
	}
	for i, from := range a.in.from {
		r := &c.Readings[from]
		var mean, square float64
		for k := range gs {
			p, w := parts[i][k], sexes[k]
			mean += w * p.mean
			square += w * (p.sd*p.sd + p.mean*p.mean)
		}
		sd := math.Sqrt(math.Max(0, square-mean*mean))
		r.Judged = true
		r.Expected = math.Exp(mean)
		r.Low, r.High = math.Exp(mean-twoSided95*sd), math.Exp(mean+twoSided95*sd)
	}
}

// notes says what the checks could not judge.
func (c *Check) notes(s form.Scheme, f form.Form, in *intake) {
	for _, l := range in.left {
		c.Notes = append(c.Notes, f.Numbers[l.from].Name()+": "+l.why)
	}
	if s.HeelGirth == form.LongHeel {
		c.Notes = append(c.Notes, "The heel girth here is the long heel, which the survey does not hold: it is compared loosely and side with side only.")
	}
	if s.AnkleGirth == form.OverBones {
		c.Notes = append(c.Notes, "The ankle girth here is taken over the bones, which the survey does not hold: it is compared loosely and side with side only.")
	}
	for _, n := range f.Numbers {
		if n.Point == form.Leg {
			c.Notes = append(c.Notes, "Leg girths by height have no published table: their profile is a judgement, wide on purpose.")
			break
		}
	}
	if f.Sex == form.SexUnknown {
		c.Notes = append(c.Notes, "Sex not given: judged against women and men together.")
	}
}
