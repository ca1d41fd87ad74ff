package remakes

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/regression"
)

// An Expectation is what the orders' mix lets one expect: shaft height,
// closure, channel, orthotic, sex, tucked and sock, without faults and without
// time, so that neither explains itself away.
type Expectation struct {
	Risk  []float64 // per order: the chance of a remake within the horizon
	ByNow []float64 // per order: the chance of its report by the as-of day
	Why   string    // why there is no model; then every order has the same risk
}

// ExpectedByMix fits the expectation on all orders. With too few remakes for a
// model every order gets the pooled share.
func ExpectedByMix(c *cohort.Cohort, m Maturity) Expectation {
	n := c.Len()
	e := Expectation{Risk: make([]float64, n), ByNow: make([]float64, n)}
	d, _ := newDesign(c, m, modelOptions{})
	if d.Patterns() == 0 {
		e.Why = "no order has been followed long enough"
		return e
	}
	w := d.Whole()
	f, err := d.Fit(regression.Columns{}, w, nil)
	e.Why = Refusal(err)
	pooled := d.PooledRisk(w)
	for k, i := range d.Subject {
		e.Risk[i] = pooled
		if err == nil {
			e.Risk[i] = f.Risk(d.Pattern(k))
		}
	}
	for i := range e.Risk {
		if age := Age(c, i); age < d.Edges[0] {
			e.Risk[i] = pooled
		}
		e.ByNow[i] = e.Risk[i] * regression.ShareBy(d.Edges, w.Share, Age(c, i))
	}
	return e
}
