package risk

import (
	"context"
	"fmt"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// A Course is how the risks of past orders have come true so far, each told by a
// model that was fitted before the order came in.
type Course struct {
	Why    string  `json:"why"` // there is none; "" if there is
	Months []Month `json:"months"`
	// Intercept and Slope are the calibration over the orders of the last twelve
	// shipping months.
	Intercept stats.Estimate `json:"calibration_intercept"`
	Slope     stats.Estimate `json:"calibration_slope"`
	Drifts    bool           `json:"drifts"`
	Words     string         `json:"words"`
}

// A Month is one shipping month: remakes known so far, and how many were foreseen
// to be known at the age that its orders have now.
type Month struct {
	Month    cohort.Month `json:"month"`
	Orders   int          `json:"orders"`
	Remade   int          `json:"remade_so_far"`
	Foreseen stats.Value  `json:"foreseen_so_far"`
	// Low and High hold 95 of 100 counts that there would be if the risks were
	// right.
	Low  int `json:"low"`
	High int `json:"high"`
	// OrderIDs are the orders, RemadeIDs those remade; see [remakes.Behind].
	OrderIDs  []string `json:"-" cbor:"order_ids"`
	RemadeIDs []string `json:"-" cbor:"remade_ids"`
}

// Said is the month in a word.
func (m Month) Said() string {
	switch {
	case m.Remade > m.High:
		return "more than foreseen"
	case m.Remade < m.Low:
		return "fewer than foreseen"
	}
	return "as foreseen"
}

// watched is how many months the course looks over; driftLevel is the level at
// which the model is said to drift: looked at each month over a year of orders,
// most of them the same as the month before, it errs in about one year of thirty
// (judgement; months share eleven twelfths of their orders).
const (
	watched    = 12
	driftLevel = 0.99
)

// Follow tells how past risks have come true by the as-of day.
func Follow(ctx context.Context, c *cohort.Cohort, o Options) (Course, error) {
	none := stats.Missing(0, "on orders received after a fit", "no risk can be given yet")
	out := Course{Months: []Month{}, Intercept: none, Slope: none}
	known := histories(c)
	whole, share, err := o.Fits.model(c, known, past{c.AsOf})
	if err != nil {
		return out, err
	}
	if whole.Why != "" {
		out.Why, out.Words = whole.Why, "No risk is given yet: "+whole.Why+"."
		return out, nil
	}
	f, err := foresee(c, known, share, remakes.MatureAfter(c, o.MatureDays), o, false, func(i int) bool { return remakes.Age(c, i) >= edges[0] })
	if err != nil || ctx.Err() != nil {
		return out, errorOr(err, ctx)
	}
	p := f.by[modelItself]
	var newest cohort.Month
	for _, i := range f.rows {
		newest = max(newest, c.Shipped[i].Month())
	}
	var late []float64
	var events []bool
	by := map[cohort.Month][]float64{}
	remade, rows := map[cohort.Month]int{}, map[cohort.Month][]int{}
	for k, i := range f.rows {
		m := c.Shipped[i].Month()
		if m <= newest-watched {
			continue
		}
		late, events, by[m], rows[m] = append(late, p[k]), append(events, f.event[k]), append(by[m], p[k]), append(rows[m], i)
		if f.event[k] {
			remade[m]++
		}
	}
	for m := newest - watched + 1; m <= newest; m++ {
		if len(by[m]) == 0 {
			continue
		}
		sum := 0.0
		for _, x := range by[m] {
			sum += x
		}
		low, high := countLimits(by[m])
		out.Months = append(out.Months, Month{Month: m, Orders: len(by[m]), Remade: remade[m], Foreseen: stats.Value(sum), Low: low, High: high,
			OrderIDs:  remakes.Behind(c, rows[m], func(int) bool { return true }),
			RemadeIDs: remakes.Behind(c, rows[m], func(i int) bool { return remakes.Event(c, i) })})
	}
	out.judge(late, events)
	return out, nil
}

// judge says whether the model drifts.
func (x *Course) judge(p []float64, event []bool) {
	sum, n := 0.0, 0
	for i, e := range event {
		sum += p[i]
		if e {
			n++
		}
	}
	if n < leastLater {
		why := fmt.Sprintf("too few to tell: %d remakes of the orders of twelve months, %d needed", n, leastLater)
		x.Intercept, x.Slope = stats.Missing(len(p), "on orders received after a fit", why), stats.Missing(len(p), "on orders received after a fit", why)
		x.Words = "Whether risks come true as they were told is too early to say: " + why + "."
		return
	}
	x.Intercept = stats.CalibrationInTheLarge(p, event, stats.DefaultLevel)
	x.Slope = stats.Calibrate(p, event, nil).Estimate(len(p), stats.DefaultLevel)
	wide := stats.CalibrationInTheLarge(p, event, driftLevel)
	x.Drifts = wide.Low > 0 || wide.High < 0
	x.Words = fmt.Sprintf("Of the last twelve months' orders %d are remade so far; %.1f were foreseen at their ages.", n, sum)
	switch {
	case wide.Low > 0:
		x.Words += " The model drifts: more come back than it foresees. Look for what has changed, and don't rely on its risks until it is fitted anew."
	case wide.High < 0:
		x.Words += " The model drifts: fewer come back than it foresees. Its risks are too high for now."
	default:
		x.Words += " No drift shows."
	}
}

// countLimits hold 95 of 100 counts of events with these chances: the exact
// distribution of their sum (Poisson binomial), by adding one after another.
func countLimits(p []float64) (low, high int) {
	chance := []float64{1}
	for _, x := range p {
		next := make([]float64, len(chance)+1)
		for k, q := range chance {
			next[k] += q * (1 - x)
			next[k+1] += q * x
		}
		// What is beyond reach is not carried on: it would cost the square of a large
		// month.
		for len(next) > 1 && next[len(next)-1] < 1e-15 {
			next = next[:len(next)-1]
		}
		chance = next
	}
	sum := 0.0
	for k, q := range chance {
		if sum += q; sum <= 0.025 {
			low = k + 1
		}
		if high = k; sum >= 0.975 {
			return low, high
		}
	}
	return low, int(math.Max(float64(low), float64(high)))
}

// Ahead are the uncut orders whose risk is at least twice the usual, the highest
// first: those to look at before leather is cut.
func (l *Learnt) Ahead(orders []Order) []OrderRisk {
	var list []Order
	for _, o := range orders {
		if o.Stage == Uncut && l.Shown() && l.risk(&o.Case).Point >= 2*l.Model.Rate {
			list = append(list, o)
		}
	}
	return l.ReportOn(cohort.NoDay, list, Price{Remake: math.NaN(), Call: math.NaN()}).Orders
}
