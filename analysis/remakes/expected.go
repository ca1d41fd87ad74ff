package remakes

import "lastroom/analysis/cohort"

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
	d := newDesign(c, m, designOptions{})
	if d.patterns() == 0 {
		e.Why = "no order has been followed long enough"
		return e
	}
	weight, share := newResampler(d).whole()
	f, why := makeFit(d, d.ends, nil, weight, share, nil)
	e.Why = why
	pooled := pooledRisk(d, weight, share)
	for k, i := range d.order {
		e.Risk[i] = pooled
		if why == "" {
			e.Risk[i] = expit(f.linear(int(d.slot[k] / 2)))
		}
	}
	for i := range e.Risk {
		if age := Age(c, i); age < d.edges[0] {
			e.Risk[i] = pooled
		}
		e.ByNow[i] = e.Risk[i] * d.shareBy(share, Age(c, i))
	}
	return e
}

// pooledRisk is the share of remakes within the horizon, of all orders alike:
// events over the orders' weights in follow-up.
func pooledRisk(d *design, weight, share []float64) float64 {
	x, n := 0.0, 0.0
	for i := range d.age {
		x += weight[2*i+1]
		n += (weight[2*i] + weight[2*i+1]) * share[d.age[i]]
	}
	if n == 0 {
		return 0
	}
	return min(1, x/n)
}

// shareBy is F at any age, straight between the edges.
func (d *design) shareBy(share []float64, age int) float64 {
	before, at := 0.0, 0
	for k, e := range d.edges {
		if age < e {
			return before + (share[k]-before)*float64(max(0, age-at))/float64(e-at)
		}
		before, at = share[k], e
	}
	return 1
}
