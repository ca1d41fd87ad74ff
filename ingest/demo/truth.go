package demo

import (
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// The faults in the catalogue's order.
const (
	tapeMarks = iota
	outlineBroken
	outlineDoubled
	tapeZero
	tapeZeroShown // never drawn: it is what the numbers of tapeZero show
	footGirth
	legHeight
	tuckedSkipped
	selfMeasured
	sidesCopied
	unitMixed
	implausible
	orthoticSilent
	nFaults
)

// effects are the true log-odds that a fault of the form cut from adds to a
// remake. A broken outline has none: it only travels with careless forms.
var effects = [nFaults]float64{
	tapeMarks:      0.85,
	outlineBroken:  0,
	outlineDoubled: 0.45,
	tapeZero:       1.5,
	footGirth:      1.1,
	legHeight:      0.9,
	tuckedSkipped:  0.7,
	selfMeasured:   0.5,
	sidesCopied:    0.6,
	unitMixed:      0,
	implausible:    0.8,
	orthoticSilent: 1.2,
}

// A Truth is what is true of an invented workshop, for tests to compare with.
// Fault ids are the keys.
type Truth struct {
	// Effects are the log-odds each fault adds to a remake, the rest alike.
	Effects map[string]float64
	// RiskDifference is the mean, over shipped orders that can have the fault,
	// of the chance of a remake with the fault less without it, everything
	// else of the order as it is.
	RiskDifference map[string]float64
	// WithFault is the number of shipped orders cut from a form with the fault.
	WithFault map[string]int
	// Shipped by the day of the extract, remake orders not counted; of them
	// Expected remakes (sum of the chances), Remakes that will ever be
	// reported, and those Late: after the day of the extract.
	Shipped       int
	Expected      float64
	Remakes, Late int
	// CalledBack orders, and those of them Mended by a second form.
	CalledBack, Mended int
	RuleFrom           cohort.Day
	RuleFaults         []string // held by rule from ruleFrom on

	atRisk, difference [nFaults]float64
}

func newTruth() Truth {
	t := Truth{
		Effects:        map[string]float64{},
		RiskDifference: map[string]float64{},
		WithFault:      map[string]int{},
		RuleFrom:       ruleFrom,
	}
	for f, e := range effects {
		t.Effects[form.Faults[f].ID] = e
	}
	for _, f := range ruleFaults {
		t.RuleFaults = append(t.RuleFaults, form.Faults[f].ID)
	}
	return t
}

// add counts one new order.
func (t *Truth) add(o *order, asOf cohort.Day) {
	if o.called.Known() {
		t.CalledBack++
		if len(o.forms) > 1 {
			t.Mended++
		}
	}
	if !o.shipped.Known() || o.shipped > asOf {
		return
	}
	t.Shipped++
	t.Expected += logistic(o.logit)
	if o.remade.Known() {
		t.Remakes++
		if o.remade > asOf {
			t.Late++
		}
	}
	cut := o.cutForm()
	for f, e := range effects {
		if f == tuckedSkipped && o.tuckedWritten != yes || f == orthoticSilent && o.orthoticWritten != yes {
			continue
		}
		without := o.logit
		if cut.faults[f] {
			without -= e
			t.WithFault[form.Faults[f].ID]++
		}
		t.atRisk[f]++
		t.difference[f] += logistic(without+e) - logistic(without)
	}
}

func (t Truth) summed() Truth {
	for f := range effects {
		if t.atRisk[f] > 0 {
			t.RiskDifference[form.Faults[f].ID] = t.difference[f] / t.atRisk[f]
		}
	}
	return t
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

func logit(p float64) float64 { return math.Log(p / (1 - p)) }
