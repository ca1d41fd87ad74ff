package regression

import "math"

// An Effect is an exposure's standardised (marginal) effect: the mean fitted
// risk of the subjects at risk with the exposure on everyone (On) and on no one
// (Off), all else as it is, and the fitted events that go with it among the
// subjects that have it.
// Hernan MA, Robins JM, Causal Inference: What If, section 13.3 (the g-formula).
type Effect struct{ On, Off, Events float64 }

// Difference of the standardised risks.
func (e Effect) Difference() float64 { return e.On - e.Off }

// Ratio of the standardised risks.
func (e Effect) Ratio() float64 { return e.On / e.Off }

// A Question asks for the effect of one exposure in a fit.
type Question struct {
	Levels     []Level // per pattern
	with, mend int     // columns; -1 for none
	// mature is the index of the edge from which a subject's events are counted.
	mature int
}

// Question is the question about exposure e of the design; events are counted
// among subjects followed for at least so many days.
func (d *Design) Question(e, days int) Question {
	return Question{d.level[e], d.withCol[e], d.mendedCol[e], d.edgeFrom(days)}
}

// AddedQuestion is the question about the exposure added to the columns of f.
func (f *Fit) AddedQuestion(days int) Question {
	return Question{f.columns.Added, f.sums.P - 2, -1, f.d.edgeFrom(days)}
}

// edgeFrom is the index of the first edge at the age or after it.
func (d *Design) edgeFrom(days int) int {
	for k, e := range d.Edges {
		if e >= days {
			return k
		}
	}
	return len(d.Edges) - 1
}

// A Model is a fit with the questions put to it.
type Model struct {
	Fit       *Fit
	Questions []Question
}

// Standardise answers the model's questions and, in all, how many events of
// mature subjects go with the exposures of all questions together.
func (m Model) Standardise() (es []Effect, all float64) {
	f, qs := m.Fit, m.Questions
	es = make([]Effect, len(qs))
	at := make([]float64, len(qs))
	factor := make([]float64, len(qs)) // odds ratio of each exposure
	for q := range qs {
		factor[q] = math.Exp(f.Coef[qs[q].with])
	}
	of := make([]float64, len(f.risk))
	f.sums.Odds(f.Coef, f.weights.counting, of)
	for _, pattern := range f.weights.counting {
		i := int(pattern)
		n, odds := f.weights.of(i), of[i]
		risk := odds / (1 + odds)
		bare := odds // odds with all exposures off
		for q := range qs {
			x := &qs[q]
			off := odds
			switch x.Levels[i] {
			case Unknown, NotAtRisk:
				continue
			case With:
				off /= factor[q]
				bare /= factor[q]
				if int(f.d.age[i]) >= x.mature {
					es[q].Events += n * (risk - off/(1+off))
				}
			case Mended:
				if x.mend >= 0 {
					off /= math.Exp(f.Coef[x.mend])
				}
			}
			on := off * factor[q]
			at[q] += n
			es[q].On += n * on / (1 + on)
			es[q].Off += n * off / (1 + off)
		}
		if len(qs) > 0 && int(f.d.age[i]) >= qs[0].mature {
			all += n * (risk - bare/(1+bare))
		}
	}
	for q := range es {
		es[q].On /= at[q]
		es[q].Off /= at[q]
	}
	return es, all
}
