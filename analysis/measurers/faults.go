package measurers

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// shaftClasses are the upper ends of the classes of boots within which a fault's expected
// share is counted: taller ones have more heights to forget (judgement).
var shaftClasses = []float64{10 * 25.4, 14 * 25.4, math.Inf(1)}

func shaftClass(mm float64) int {
	if math.IsNaN(mm) {
		return len(shaftClasses)
	}
	return slices.IndexFunc(shaftClasses, func(most float64) bool { return mm < most })
}

// counts are forms with a fault and forms on which it is known, by class of shaft.
type counts [][2]int

func (c counts) total() (with, known int) {
	for _, k := range c {
		with, known = with+k[0], known+k[1]
	}
	return with, known
}

// faults adds the fault rates of every measurer that has a row.
func (g gathered) faults(c *cohort.Cohort, d *Comparison) {
	for f := range form.Faults {
		by, orders, judged := make([]counts, len(g.kept)), make([][]string, len(g.kept)), make([][]string, len(g.kept))
		for k, t := range g.kept {
			by[k] = make(counts, len(shaftClasses)+1)
			judged[k] = remakes.Behind(c, t.rows, func(i int) bool { return c.Cut[f][i] == form.With || c.Cut[f][i] == form.Without })
			for _, i := range t.rows {
				at := &by[k][shaftClass(c.ShaftMM[i])]
				switch c.Cut[f][i] {
				case form.With:
					at[0]++
					at[1]++
					orders[k] = append(orders[k], c.OrderID[i])
				case form.Without:
					at[1]++
				}
			}
			slices.Reverse(orders[k])
		}
		g.fault(f, by, orders, judged, d)
	}
}

func (g gathered) fault(f int, by []counts, orders, judged [][]string, d *Comparison) {
	x, n := make([]int, len(by)), make([]int, len(by))
	for k := range by {
		x[k], n[k] = by[k].total()
	}
	h, groups := shareHierarchy(x, n)
	target := stats.PCenter(x, n)
	row, p := 0, []float64{}
	var at []*FaultRate
	for k, t := range g.kept {
		if t.n < LeastOrders {
			continue
		}
		r := &d.Measurers[row]
		row++
		if n[k] < LeastOrders {
			continue
		}
		fr := FaultRate{Fault: form.Faults[f].ID, AtRisk: n[k], With: x[k], Share: shrunkenShare(h, groups, x[k], n[k], k), Rate: remakes.Rate(x[k], n[k]),
			Expected: expectedShare(by, k), Orders: orders[k], JudgedOrders: judged[k]}
		fr.Funnel = funnel(target, n[k])
		fr.Outside = outside(fr.Funnel, x[k], n[k])
		r.Faults = append(r.Faults, fr)
		at, p = append(at, &r.Faults[len(r.Faults)-1]), append(p, float64(tail(x[k], n[k], target)))
	}
	for k, q := range stats.BenjaminiHochberg(p) {
		at[k].QValue = stats.Value(q)
	}
}

// expectedShare is the share that the others' forms have, weighted by the classes of
// boots of measurer k: indirect standardisation, with the interval of Wilson for as many forms as have
// its variance. Classes that the others hardly have are taken by their overall share.
func expectedShare(by []counts, k int) stats.Estimate {
	const method = "share of all others on boots as tall, Wilson interval"
	others := make(counts, len(by[k]))
	for j := range by {
		for class := range others {
			if j != k {
				others[class][0], others[class][1] = others[class][0]+by[j][class][0], others[class][1]+by[j][class][1]
			}
		}
	}
	x, n := others.total()
	_, own := by[k].total()
	if n < LeastOrders || own == 0 {
		return stats.Missing(n, method, fmt.Sprintf("too few to tell: %d forms of others, %d needed", n, LeastOrders))
	}
	share, variance := 0.0, 0.0
	for class, o := range others {
		weight := float64(by[k][class][1]) / float64(own)
		a, b := float64(o[0]), float64(o[1])
		if o[1] < LeastOrders {
			a, b = float64(x), float64(n)
		}
		// Agresti and Coull's two and two keep the variance of 0 of b from being nil.
		p := (a + 2) / (b + 4)
		share, variance = share+weight*a/b, variance+weight*weight*p*(1-p)/(b+4)
	}
	p := (share*float64(n) + 2) / (float64(n) + 4)
	like := max(1, int(p*(1-p)/variance))
	e := stats.Wilson(int(math.Round(share*float64(like))), like, level)
	e.Point, e.N, e.Method = share, n, method
	e.Low, e.High = math.Min(e.Low, share), math.Max(e.High, share)
	return e
}

// shareHierarchy is the hierarchy of shares x/n with nothing taken into account,
// groups under LeastOrders left out; groups has the place of each, -1 for none.
func shareHierarchy(x, n []int) (h *stats.Hierarchy, groups []int) {
	var list []stats.Group
	for k := range x {
		groups = append(groups, -1)
		if n[k] >= LeastOrders {
			groups[k] = len(list)
			list = append(list, stats.BinomialGroup(x[k], n[k], 0.5))
		}
	}
	h, err := stats.NewHierarchy(list, spreadScale)
	if err != nil {
		return nil, groups
	}
	return h, groups
}

// shrunkenShare is the share of group k, drawn towards all.
func shrunkenShare(h *stats.Hierarchy, groups []int, x, n, k int) stats.Estimate {
	const method = "hierarchical model on a grid (posterior median)"
	if h == nil || groups[k] < 0 {
		return stats.Missing(n, method, "there is nobody to compare with")
	}
	post := h.Without(groups[k]).Given(stats.BinomialGroup(x, n, 0.5).LogLik)
	return post.Alone(stats.Logistic, level, n, method)
}

func funnel(target float64, n int) Funnel {
	at := func(q float64) stats.Value { return stats.Value(stats.FunnelLimit(target, n, q)) }
	return Funnel{at(0.001), at(0.025), at(0.975), at(0.999)}
}

func outside(f Funnel, x, n int) string {
	rate := stats.Value(float64(x) / float64(n))
	switch {
	case rate > f.High998:
		return "above 99.8"
	case rate > f.High95:
		return "above 95"
	case rate < f.Low998:
		return "below 99.8"
	case rate < f.Low95:
		return "below 95"
	}
	return ""
}

// tail is the two-sided mid-p of the binomial: twice the smaller tail, half of
// the observed count's chance in each.
func tail(x, n int, p float64) stats.Value {
	if !(p > 0 && p < 1) {
		return stats.Value(math.NaN())
	}
	half := stats.BinomialProb(x, n, p) / 2
	low := stats.BinomialCDF(x-1, n, p) + half
	return stats.Value(math.Min(1, 2*math.Min(low, 1-low)))
}
