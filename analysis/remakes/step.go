package remakes

import (
	"math/rand/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

const stepMethod = "segmented regression (logistic, trend, season and kind of boot carried), standardised, bootstrap by customer (percentile)"

// A Change is what happened to the remake risk at a day.
type Change struct {
	// Risk is the change of the remake risk of the orders since the day: as
	// they were, less what the model expects of them had the earlier course
	// gone on. Below 0 is fewer remakes.
	Risk stats.Estimate
	// Promised is what the caller's figure says on the orders as they are, and
	// Kept the share -Risk/Promised, resampled together.
	Promised, Kept stats.Estimate
}

// ChangeAt fits the change of the remake risk of mature orders at a day:
// since says which orders belong to the time after, keep which are looked at
// at all. promised is a figure on the same orders to hold the change
// against; it gets how often order i counts in a resample.
func ChangeAt(c *cohort.Cohort, m Maturity, keep, since func(i int) bool, promised func(times func(i int) float64) float64, o Options) Change {
	d := newDesign(c, m, designOptions{time: true, months: true, extra: since, keep: func(i int) bool { return m.Is(c, i) && keep(i) }})
	none := func(why string) Change {
		e := stats.Missing(len(d.slot), stepMethod, why)
		return Change{e, e, e}
	}
	if o.Replicates <= 0 {
		return none(notAsked)
	}
	after := afterwards(d)
	rs := newResampler(d)
	weight, share := rs.whole()
	if why := tooFewAround(d, weight); why != "" {
		return none(why)
	}
	f, why := makeFit(d, d.ends, d.extra, weight, share, nil)
	if why != "" {
		return none(why)
	}
	mo := []riskModel{{f, []question{{after, f.p - 2, -1, -1, 0}}, []int{0}}}
	points, _ := ask(mo, weight, share)
	change := points[0].difference()
	figure := promised(func(int) float64 { return 1 })
	var ts []*tangent
	if events(weight) >= manyRemakes {
		ts = tangents(mo)
	}
	reps := run(o.plan(), 3, func() *refitter { return newRefitter(d, mo, ts) }, changeAgain(rowCustomers(c, d), promised))
	if reps == nil {
		return none("the run was stopped before the bootstrap was through")
	}
	give := func(point float64, k int) stats.Estimate {
		e := stats.Percentile(point, reps.Values[k], level, len(d.slot))
		e.Method = stepMethod
		return e
	}
	return Change{give(change, 0), give(figure, 1), give(-change/figure, 2)}
}

// changeAgain is one resample of the change, the promised figure and the share
// kept; row has the customer of each order, below 0 where it is not in the fit.
func changeAgain(row []int32, promised func(times func(i int) float64) float64) func(r *refitter, rng *rand.Rand, out []float64) error {
	return func(r *refitter, rng *rand.Rand, out []float64) error {
		r.models[0].fit.weight, r.models[0].fit.share = r.rs.draw(rng)
		es, _ := r.again(0)
		out[0] = es[0].difference()
		out[1] = promised(func(i int) float64 {
			if row[i] < 0 {
				return 0
			}
			return r.rs.multiple[row[i]]
		})
		out[2] = -out[0] / out[1]
		return nil
	}
}

// afterwards are the exposure codes of the question about the time after: only
// those orders are asked about.
func afterwards(d *design) []uint8 {
	e := make([]uint8, d.patterns())
	for i, x := range d.extra {
		e[i] = noRisk
		if x == 1 {
			e[i] = withFault
		}
	}
	return e
}

func tooFewAround(d *design, weight []float64) string {
	var t stats.Table
	for i, x := range d.extra {
		n0, n1 := int(weight[2*i]), int(weight[2*i+1])
		if x == 1 {
			t.A, t.B = t.A+n1, t.B+n0
		} else {
			t.C, t.D = t.C+n1, t.D+n0
		}
	}
	switch {
	case t.N1() < LeastOrders:
		return "too few to tell: fewer than 10 mature orders since the start"
	case t.N0() < LeastOrders:
		return "too few to tell: fewer than 10 mature orders before the start"
	case t.A < LeastEvents && t.C < LeastEvents || t.A+t.C < 2*LeastEvents:
		return "too few to tell: too few remakes before and since the start"
	}
	return ""
}

// rowCustomers is each cohort row's customer in the design, -1 for none.
func rowCustomers(c *cohort.Cohort, d *design) []int32 {
	row := make([]int32, c.Len())
	for i := range row {
		row[i] = -1
	}
	for k, i := range d.order {
		row[i] = d.customer[k]
	}
	return row
}
