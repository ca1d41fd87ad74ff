package remakes

import "math"

// An effect is a fault's standardised (marginal) effect: the mean fitted risk
// of the orders at risk with the fault on everyone (on) and on no one (off),
// all else as it is, and the fitted remakes that go with it among the mature
// orders that have it.
// Hernan MA, Robins JM, Causal Inference: What If, section 13.3 (the g-formula).
type effect struct{ on, off, remakes float64 }

func (e effect) difference() float64 { return e.on - e.off }

func (e effect) ratio() float64 { return e.on / e.off }

// A question asks for the effect of one exposure in a fit.
type question struct {
	exposure          []uint8 // per pattern
	with, mend, blank int     // columns; -1 for none
	mature            int     // index of the edge from which an order counts as mature
}

// faultQuestion is the question about fault f of the design.
func (d *design) faultQuestion(f, mature int) question {
	return question{d.exposure[f], d.withCol[f], d.mendedCol[f], d.blankCol[f], mature}
}

// standardise answers several questions of one fit and, in all, how many
// remakes of mature orders go with the exposures of all questions together.
func standardise(f *fit, qs []question) (es []effect, all float64) {
	es = make([]effect, len(qs))
	at := make([]float64, len(qs))
	factor := make([]float64, len(qs)) // odds ratio of each exposure
	for q := range qs {
		factor[q] = math.Exp(f.beta[qs[q].with])
	}
	for i := range f.d.from {
		n := f.weight[2*i] + f.weight[2*i+1]
		if n == 0 {
			continue
		}
		odds := math.Exp(f.linear(i))
		risk := odds / (1 + odds)
		bare := odds // odds with all exposures off
		for q := range qs {
			x := &qs[q]
			off := odds
			switch x.exposure[i] {
			case notKnown, noRisk:
				continue
			case withFault:
				off /= factor[q]
				bare /= factor[q]
				if int(f.d.age[i]) >= x.mature {
					es[q].remakes += n * (risk - off/(1+off))
				}
			case mended:
				if x.mend >= 0 {
					off /= math.Exp(f.beta[x.mend])
				}
			}
			on := off * factor[q]
			at[q] += n
			es[q].on += n * on / (1 + on)
			es[q].off += n * off / (1 + off)
		}
		if len(qs) > 0 && int(f.d.age[i]) >= qs[0].mature {
			all += n * (risk - bare/(1+bare))
		}
	}
	for q := range es {
		es[q].on /= at[q]
		es[q].off /= at[q]
	}
	return es, all
}
