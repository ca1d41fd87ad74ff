package remakes

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

const compareMethod = "standardised risk, kind of boot and time taken into account, robust standard error by customer"

// A Comparer compares groups of orders with the kind of boot, the wearer and
// time taken into account, but no faults: it serves questions that are about
// faults themselves, as an intake rule is.
type Comparer struct {
	d     *design
	share []float64
	start *fit // the model without a group; nil where there is none
}

// NewComparer makes one on the orders that keep says; nil keeps all.
func NewComparer(c *cohort.Cohort, m Maturity, keep func(i int) bool) *Comparer {
	d := newDesign(c, m, designOptions{time: true, keep: keep})
	k := &Comparer{d: d}
	var weight []float64
	weight, k.share = newResampler(d).whole()
	if f, why := makeFit(d, d.ends, nil, weight, k.share, nil); why == "" {
		k.start = f
	}
	return k
}

// A Comparison is the difference and ratio of the standardised risks with the
// group on and off for all, and the two-sided p of the difference.
type Comparison struct {
	Difference, Ratio stats.Estimate
	P                 Number
}

// Compare takes one state an order: With is in the group, Without is not;
// others stand aside (Unknown with a term of their own).
func (k *Comparer) Compare(state []form.State) Comparison {
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
	f, why := makeFit(d, d.ends, extraOf(exposure), weight, k.share, k.start)
	if why != "" {
		return none(n, why)
	}
	return compared(f, question{exposure, f.p - 2, -1, f.p - 1, 0}, n)
}

// split parts the patterns by the orders' states.
func (k *Comparer) split(state []form.State) (*design, []uint8) {
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
// squared and added up.
// Stefanski LA, Boos DD (2002) Am Stat 56:29-38 (from memory).
func compared(f *fit, q question, n int) Comparison {
	es, _ := standardise(f, []question{q})
	t := newTangent(riskModel{f, []question{q}, nil})
	l := t.lines[0]
	return comparison(es[0], t.jackknife(l.difference(es[0], f.weight)).se, t.jackknife(l.logRatio(es[0], f.weight)).se, n)
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
