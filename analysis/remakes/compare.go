package remakes

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

const compareMethod = "standardised risk, kind of boot and time taken into account, robust standard error by customer"

// A Comparer compares groups of orders with the kind of boot, the wearer and
// time taken into account, but no faults: it serves questions that are about
// faults themselves, as an intake rule is.
type Comparer struct {
	d     *design
	share []float64
}

// NewComparer makes one on the orders that keep says; nil keeps all.
func NewComparer(c *cohort.Cohort, m Maturity, keep func(i int) bool) *Comparer {
	d := newDesign(c, m, designOptions{time: true, keep: keep})
	return &Comparer{d, reportShare(d, nil)}
}

// A Comparison is the difference and ratio of the standardised risks with the
// group on and off for all, and the two-sided p of the difference.
type Comparison struct {
	Difference, Ratio stats.Estimate
	P                 Number
}

// Compare takes one state an order: With is in the group, Without is not;
// others stand aside (Unknown with a term of their own).
func (k *Comparer) Compare(state []cohort.State) Comparison {
	none := func(n int, why string) Comparison {
		e := stats.Missing(n, compareMethod, why)
		return Comparison{e, e, Number(math.NaN())}
	}
	d, exposure := k.split(state)
	weight, _ := newResampler(d).whole()
	n := 0
	for i, e := range exposure {
		if e == withFault || e == clean {
			n += int(weight[2*i] + weight[2*i+1])
		}
	}
	if why := tooFewForModel(exposure, weight); why != "" {
		return none(n, why)
	}
	extra := make([]uint8, len(exposure))
	for i, e := range exposure {
		switch e {
		case withFault:
			extra[i] = 1
		case notKnown:
			extra[i] = 2
		}
	}
	f, why := makeFit(d, d.ends, extra, weight, k.share)
	if why != "" {
		return none(n, why)
	}
	return compared(f, question{exposure, f.p - 2, -1, f.p - 1, 0}, n)
}

// split parts the patterns by the orders' states.
func (k *Comparer) split(state []cohort.State) (*design, []uint8) {
	d := *k.d
	d.from, d.ends, d.all, d.age, d.slot = nil, nil, nil, nil, make([]int32, len(k.d.slot))
	var exposure []uint8
	at := make([]int32, 4*k.d.patterns()) // 1 + the new number of pattern and state
	for o, slot := range k.d.slot {
		p, s := slot/2, state[k.d.order[o]]
		key := 4*p + int32(s)
		if at[key] == 0 {
			d.from, d.ends, d.all, d.age = append(d.from, k.d.from[p]), append(d.ends, k.d.ends[p]), append(d.all, k.d.all[p]), append(d.age, k.d.age[p])
			exposure = append(exposure, [4]uint8{notKnown, clean, withFault, noRisk}[s])
			at[key] = int32(len(d.from))
		}
		d.slot[o] = 2*(at[key]-1) + slot%2
	}
	return &d, exposure
}

// compared is the answer with the sandwich variance: the customers' influences,
// squared and added up. The share of late reports is taken as known.
// Stefanski LA, Boos DD (2002) Am Stat 56:29-38 (from memory).
func compared(f *fit, q question, n int) Comparison {
	es, _ := standardise(f, []question{q})
	on, off := influence(f, newTangent(riskModel{f, []question{q}, nil}), 0, es[0])
	var varDiff, varLog float64
	for k := range on {
		diff, log := on[k]-off[k], on[k]/es[0].on-off[k]/es[0].off
		varDiff, varLog = varDiff+diff*diff, varLog+log*log
	}
	return comparison(es[0], math.Sqrt(varDiff), math.Sqrt(varLog), n)
}

// influence is each customer's influence on the standardised risks with the
// exposure of question k on and off: through the orders' own terms in the mean
// and through the estimates.
func influence(f *fit, t *tangent, k int, e effect) (byOn, byOff []float64) {
	f.pass(true)
	f.factor()
	l := t.lines[k]
	toOn, toOff := cholSolve(f.chol, f.alias, l.dOn, f.p), cholSolve(f.chol, f.alias, l.dOff, f.p)
	total := 0.0
	for i, c := range l.counts {
		total += float64(c) * (f.weight[2*i] + f.weight[2*i+1])
	}
	on, off := make([]float64, len(f.weight)), make([]float64, len(f.weight))
	x, cols := make([]float64, f.p), make([]int, 0, f.p)
	for i, r := range t.risk {
		a, b, _ := unit(r, f.share[f.d.age[i]])
		cols = f.row(i, x, cols)
		xOn, xOff := 0.0, 0.0
		for _, c := range cols {
			xOn, xOff = xOn+x[c]*toOn[c], xOff+x[c]*toOff[c]
		}
		own := float64(l.counts[i]) / total
		ownOn, ownOff := own*(float64(l.on[i])-e.on), own*(float64(l.off[i])-e.off)
		on[2*i], on[2*i+1] = ownOn+b*xOn, ownOn+a*xOn
		off[2*i], off[2*i+1] = ownOff+b*xOff, ownOff+a*xOff
	}
	byOn, byOff = make([]float64, f.d.customers), make([]float64, f.d.customers)
	for o, slot := range f.d.slot {
		byOn[f.d.customer[o]] += on[slot]
		byOff[f.d.customer[o]] += off[slot]
	}
	return byOn, byOff
}

func comparison(e effect, se, seLog float64, n int) Comparison {
	z := stats.Z(level)
	r := Comparison{
		Difference: stats.Estimate{Point: e.difference(), Low: e.difference() - z*se, High: e.difference() + z*se, Level: level, N: n, Method: compareMethod},
		Ratio:      stats.Estimate{Point: e.ratio(), Low: e.ratio() * math.Exp(-z*seLog), High: e.ratio() * math.Exp(z*seLog), Level: level, N: n, Method: compareMethod},
		P:          Number(math.NaN()),
	}
	if se > 0 {
		r.P = Number(2 * distuv.UnitNormal.CDF(-math.Abs(e.difference())/se))
	}
	return r
}
