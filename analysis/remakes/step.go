package remakes

import (
	"context"
	"math/rand/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/regression"
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
func ChangeAt(ctx context.Context, c *cohort.Cohort, m Maturity, keep, since func(i int) bool, promised func(times func(i int) float64) float64, o Options) Change {
	d, _ := newDesign(c, m, modelOptions{time: true, months: true, keep: func(i int) bool { return m.Is(c, i) && keep(i) }, exposure: func(i int) regression.Level {
		if since(i) {
			return regression.With
		}
		return regression.Clean
	}})
	none := func(why string) Change {
		e := stats.Missing(len(d.Subject), stepMethod, why)
		return Change{e, e, e}
	}
	if o.Replicates <= 0 {
		return none(notAsked)
	}
	w := d.Whole()
	after := d.Levels(0)
	if why := tooFewAround(w.Arms(after)); why != "" {
		return none(why)
	}
	f, err := d.Fit(regression.Columns{Added: after}, w, nil)
	if err != nil {
		return none(refusal(err))
	}
	question := f.AddedQuestion(0)
	question.Levels = onlyExposed(after)
	models := []regression.Model{{Fit: f, Questions: []regression.Question{question}}}
	points, _ := answers(models)
	change := points[0].Difference()
	figure := promised(func(int) float64 { return 1 })
	var steps []*regression.Linearization
	if w.Events() >= manyRemakes {
		steps = regression.Linearize(models)
	}
	reps := regression.Run(ctx, o.bootstrap(), 3,
		func() *regression.Refitter { return regression.NewRefitter(d, models, steps) },
		changeAgain(rowCustomers(c, d), promised))
	if reps == nil {
		return none("the run was stopped before the bootstrap was through")
	}
	give := func(point float64, k int) stats.Estimate {
		e := stats.Percentile(point, reps[k], level, len(d.Subject))
		e.Method = stepMethod
		return e
	}
	return Change{give(change, 0), give(figure, 1), give(-change/figure, 2)}
}

// changeAgain is one resample of the change, the promised figure and the share
// kept; row has the customer of each order, below 0 where it is not in the fit.
func changeAgain(row []int32, promised func(times func(i int) float64) float64) func(r *regression.Refitter, rng *rand.Rand, out []float64) {
	return func(r *regression.Refitter, rng *rand.Rand, out []float64) {
		es, _ := r.Answer(0, r.Draw(rng))
		out[0] = es[0].Difference()
		out[1] = promised(func(i int) float64 {
			if row[i] < 0 {
				return 0
			}
			return r.Times(row[i])
		})
		out[2] = -out[0] / out[1]
	}
}

// onlyExposed asks about the orders of the time after alone.
func onlyExposed(levels []regression.Level) []regression.Level {
	only := make([]regression.Level, len(levels))
	for i, l := range levels {
		only[i] = regression.NotAtRisk
		if l == regression.With {
			only[i] = l
		}
	}
	return only
}

func tooFewAround(t stats.Table) string {
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
