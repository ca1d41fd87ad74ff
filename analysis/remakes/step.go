package remakes

import (
	"context"
	"math/rand/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/regression"
	"lastroom/analysis/stats"
)

const (
	stepMethod    = "segmented regression (logistic; trend, season and kind of boot carried), standardised, bootstrap by customer (percentile)"
	controlMethod = "difference in differences against forms not held in the same months (logistic; trend, season and kind of boot carried), standardised, bootstrap by customer (percentile)"
)

// A Break asks what happened to the remake risk of some orders at a day.
type Break struct {
	Keep    func(i int) bool // which orders are looked at; those of the washout are not
	Since   func(i int) bool // the order belongs to the time after
	Treated func(i int) bool // what is asked about; the others are the controls
	// Promised is a figure on the same orders to hold the change against, per
	// order; it gets how often order i counts in a resample, and a standard normal
	// draw for what else it is unsure of: 0 for the figure itself.
	Promised func(times func(i int) float64, draw float64) float64
}

// A Shift is what happened at a day, per order since then (treated or not): the
// change of the treated orders' risk times their share. Below 0 is fewer remakes.
type Shift struct {
	// Risk is the change of the treated orders: as they were, less what the
	// model expects of them had the earlier course of all orders gone on.
	Risk stats.Estimate
	// Controlled is the same less the change of the controls at the same time,
	// on the logit scale: a course of the whole shop, straight or not, is in
	// both.
	Controlled stats.Estimate
	// Promised is the caller's figure on the orders as they are, and Kept the
	// share -Controlled/Promised, resampled together.
	Promised, Kept stats.Estimate
}

// ChangeAt fits the change of the remake risk of mature orders at a day.
//
// Lopez Bernal J, Cummins S, Gasparrini A (2018) Int J Epidemiol 47:2082-2093
// tell how a control series guards a before-and-after against what happens to
// everybody.
func ChangeAt(ctx context.Context, c *cohort.Cohort, m Maturity, b Break, o Options) Shift {
	keep := func(i int) bool { return m.Is(c, i) && b.Keep(i) }
	treated := regression.Term{Names: []string{"treated"}, Values: [][]float64{{0}, {1}}, Code: code(b.Treated)}
	after := regression.Term{Names: []string{"since the day"}, Values: [][]float64{{0}, {1}}, Code: code(b.Since)}
	// Since the day the treated have a change of their own (With), and so have
	// the controls (Unknown: the other column that an added exposure has).
	arms := func(controls regression.Level) func(i int) regression.Level {
		return func(i int) regression.Level {
			switch {
			case !b.Since(i):
				return regression.Clean
			case b.Treated(i):
				return regression.With
			}
			return controls
		}
	}
	alone, _ := newDesign(c, m, modelOptions{time: true, months: true, keep: keep, terms: []regression.Term{treated}, exposure: arms(regression.Unknown)})
	against, _ := newDesign(c, m, modelOptions{time: true, months: true, keep: keep, terms: []regression.Term{treated, after}, exposure: arms(regression.Clean)})
	n, share := treatedShare(c, keep, b)

	var ch Shift
	step := answer{d: alone, method: stepMethod, n: n}
	ch.Risk = step.estimate(ctx, c, share, nil, o)[0]
	control := answer{d: against, method: controlMethod, n: n}
	es := control.estimate(ctx, c, share, b.Promised, o)
	ch.Controlled, ch.Promised, ch.Kept = es[0], es[1], es[2]
	return ch
}

func code(is func(i int) bool) func(i int) int {
	return func(i int) int {
		if is(i) {
			return 1
		}
		return 0
	}
}

// treatedShare is the number of orders since the day and the share of treated
// ones among them.
func treatedShare(c *cohort.Cohort, keep func(i int) bool, b Break) (n int, share float64) {
	treated := 0
	for i := range c.Shipped {
		if keep(i) && b.Since(i) {
			n++
			if b.Treated(i) {
				treated++
			}
		}
	}
	return n, float64(treated) / float64(max(n, 1))
}

// An answer is one design that is asked for the change of the treated orders
// since the day.
type answer struct {
	d      *regression.Design
	method string
	n      int
}

// estimate gives the change of the treated orders times their share, the promised
// figure and the share kept; nil for promised gives the first only.
func (a answer) estimate(ctx context.Context, c *cohort.Cohort, share float64, promised func(times func(i int) float64, draw float64) float64, o Options) [3]stats.Estimate {
	none := func(why string) [3]stats.Estimate {
		e := stats.Missing(a.n, a.method, why)
		return [3]stats.Estimate{e, e, e}
	}
	if o.Replicates <= 0 {
		return none(notAsked)
	}
	if promised == nil {
		promised = func(func(i int) float64, float64) float64 { return 1 }
	}
	w := a.d.Whole()
	levels := a.d.Levels(0)
	if why := tooFewAround(w.Arms(onlyExposed(levels, regression.Clean))); why != "" {
		return none(why)
	}
	f, err := a.d.Fit(regression.Columns{Added: levels}, w, nil)
	if err != nil {
		return none(Refusal(err))
	}
	question := f.AddedQuestion(0)
	question.Levels = onlyExposed(levels, regression.NotAtRisk)
	models := []regression.Model{{Fit: f, Questions: []regression.Question{question}}}
	points, _ := answers(models)
	change := share * points[0].Difference()
	figure := promised(func(int) float64 { return 1 }, 0)
	var steps []*regression.Linearization
	if w.Events() >= manyRemakes {
		steps = regression.Linearize(models)
	}
	reps := regression.Run(ctx, o.bootstrap(), 3,
		func() *regression.Refitter { return regression.NewRefitter(a.d, models, steps) },
		changeAgain(rowCustomers(c, a.d), share, promised))
	if reps == nil {
		return none("the run was stopped before the bootstrap was through")
	}
	give := func(point float64, k int) stats.Estimate {
		e := stats.Percentile(point, reps[k], level, a.n)
		e.Method = a.method
		return e
	}
	return [3]stats.Estimate{give(change, 0), give(figure, 1), give(-change/figure, 2)}
}

// changeAgain is one resample of the change, the promised figure and the share
// kept; row has the customer of each order, below 0 where it is not in the fit.
func changeAgain(row []int32, share float64, promised func(times func(i int) float64, draw float64) float64) func(r *regression.Refitter, rng *rand.Rand, out []float64) {
	return func(r *regression.Refitter, rng *rand.Rand, out []float64) {
		es, _ := r.Answer(0, r.Draw(rng))
		out[0] = share * es[0].Difference()
		out[1] = promised(func(i int) float64 {
			if row[i] < 0 {
				return 0
			}
			return r.Times(row[i])
		}, rng.NormFloat64())
		out[2] = -out[0] / out[1]
	}
}

// onlyExposed asks about the treated orders since the day alone: the others get
// another level.
func onlyExposed(levels []regression.Level, others regression.Level) []regression.Level {
	only := make([]regression.Level, len(levels))
	for i, l := range levels {
		only[i] = others
		if l == regression.With {
			only[i] = l
		}
	}
	return only
}

func tooFewAround(t stats.TwoByTwo) string {
	switch {
	case t.N1() < LeastOrders:
		return "too few to tell: fewer than 10 mature held orders since the start"
	case t.N0() < LeastOrders:
		return "too few to tell: fewer than 10 mature orders to compare with"
	case t.A < LeastEvents && t.C < LeastEvents || t.A+t.C < 2*LeastEvents:
		return "too few to tell: too few remakes before and since the start"
	}
	return ""
}

// rowCustomers is each cohort row's customer in the design, -1 for none.
func rowCustomers(c *cohort.Cohort, d *regression.Design) []int32 {
	row := make([]int32, c.Len())
	for i := range row {
		row[i] = -1
	}
	for k, i := range d.Subject {
		row[i] = d.Cluster[k]
	}
	return row
}
