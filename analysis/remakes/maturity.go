package remakes

import (
	"fmt"
	"math"
	"sort"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

// Horizon is the age, in days after shipping, at which follow-up ends: a
// remake reported later is another story.
const Horizon = 365

// enoughDelays is the number of remakes on orders followed to the Horizon that
// the reporting delay can be read from.
const enoughDelays = 20

// A Maturity says when an order's story counts as told.
type Maturity struct {
	Days     int            `json:"days"`
	Set      bool           `json:"set"`     // given by the user, not by the data
	Remakes  int            `json:"remakes"` // the delays it rests on
	Rule     string         `json:"rule"`    // in words
	Shipped  int            `json:"shipped_orders"`
	Mature   int            `json:"mature_orders"`
	Answered stats.Estimate `json:"answered_share"` // of mature orders
	// NoDay counts the mature orders of which a remake was reported without its
	// day. They are among the remade wherever no day is needed.
	NoDay int `json:"remade_without_day"`
}

// MatureAfter finds the days N after which an order is mature: the 95th
// percentile (type 7, rounded up) of the days from shipping to the first
// report of a remake, among orders shipped at least 365 days before the as-of
// day and remakes reported within 365 days. With fewer than 20 such remakes N
// is 365. A days above 0 overrides it.
func MatureAfter(c *cohort.Cohort, days int) Maturity {
	m := Maturity{Shipped: c.Len()}
	var delays []float64
	for i := range c.Shipped {
		if Age(c, i) >= Horizon && Dated(c, i) {
			delays = append(delays, float64(c.Remade[i]-c.Shipped[i]))
		}
	}
	m.Remakes = len(delays)
	switch {
	case days > 0:
		m.Days, m.Set = days, true
		m.Rule = fmt.Sprintf("set to %d days", days)
	case len(delays) < enoughDelays:
		m.Days = Horizon
		m.Rule = fmt.Sprintf("%d days, since only %d remakes on orders shipped at least a year ago show how late reports come (%d needed)", Horizon, len(delays), enoughDelays)
	default:
		sort.Float64s(delays)
		m.Days = max(1, int(math.Ceil(stats.Quantile7(delays, 0.95))))
		m.Rule = fmt.Sprintf("%d days: 95 in 100 of %d remakes were reported by then, among orders shipped at least a year ago", m.Days, len(delays))
	}
	answered := 0
	for i := range c.Shipped {
		if m.Is(c, i) {
			m.Mature++
			if c.RemadeWithoutDay(i) {
				m.NoDay++
			}
			if c.Answered[i] {
				answered++
			}
		}
	}
	m.Answered = Rate(answered, m.Mature)
	return m
}

// Is reports whether order i was shipped at least m.Days before the as-of day.
func (m Maturity) Is(c *cohort.Cohort, i int) bool { return Age(c, i) >= m.Days }

// Age is the number of days from the shipping of order i to the as-of day.
func Age(c *cohort.Cohort, i int) int { return int(c.AsOf - c.Shipped[i]) }

// Event reports whether the event of order i is there: a remake reported
// within the Horizon of shipping and by the as-of day. A pair returned for the
// money can't be remade any more: a remake reported after a return is none.
//
// So every risk in this package is the chance of a remake within the Horizon with
// the return as a competing end (the cumulative incidence), not the chance there
// would be if nobody could return a pair. A returned order stays among those
// followed for as long as it would have been: the end of follow-up is the as-of
// day, known for all, and then shares, curves and the risk model need no other
// weights (Fine JP, Gray RJ (1999) J Am Stat Assoc 94:496-509 call such data
// censoring complete).
//
// A remake reported without its day is one too: it is known by the as-of day, and
// is taken for one within the Horizon and before any return. Shares, tables and
// models count it, for they need no day; how long reports take, curves by age and
// young months at equal age do, and have such orders not at all ([Dated]).
func Event(c *cohort.Cohort, i int) bool { return c.RemadeWithoutDay(i) || Dated(c, i) }

// Dated reports whether the event of order i is there with its day.
func Dated(c *cohort.Cohort, i int) bool {
	r := c.Remade[i]
	return r.Known() && r <= c.AsOf && r-c.Shipped[i] <= Horizon && !remadeAfterReturn(c, i)
}

// remadeAfterReturn reports that the first remake of order i was told of after a
// return.
func remadeAfterReturn(c *cohort.Cohort, i int) bool {
	return c.Returned[i].Known() && c.Returned[i] < c.Remade[i]
}
