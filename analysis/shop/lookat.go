package shop

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// A Remake is a remade order with what its report said.
type Remake struct {
	Order                        string
	Shipped, Told                cohort.Day // Told is NoDay where no day was written
	Zone, Direction, Side, Cause string
	Faults                       []string // titles of those known on the form that was cut from
	Cost                         float64  // NaN: not written
}

// Remakes are the remade orders of a shipping month, in the order of shipping.
func Remakes(c *cohort.Cohort, month cohort.Month) []Remake {
	out := []Remake{}
	from, to := rowsOf(c, month)
	for i := from; i < to; i++ {
		if remakes.Event(c, i) {
			out = append(out, Remake{Order: c.OrderID[i], Shipped: c.Shipped[i], Told: c.Remade[i], Zone: c.Zone.At(i), Direction: c.Direction.At(i),
				Side: c.Side.At(i), Cause: c.Cause.At(i), Faults: knownFaults(c, i), Cost: c.Cost[i]})
		}
	}
	return out
}

// A LookAt is an order to look at, and why.
type LookAt struct {
	Order   string     `json:"order_id"`
	Shipped cohort.Day `json:"shipped_on"`
	Why     string     `json:"why"`
}

const (
	// enoughFaults known on the form make an order one to ask about (judgement).
	enoughFaults = 2
	// LeastAge is how many days a pair must be out before anything can be said of
	// it (judgement: as a month is too young to compare before).
	LeastAge = 14
	// usualTelling is how long half of the remakes take to be told where the shop's
	// own are too few to say (judgement), and enoughTold how many say it.
	usualTelling = 60
	enoughTold   = 20
)

// Telling is how many days after shipping half of the remakes have been told of,
// among orders shipped at least a year ago; 60 where there are fewer than 20.
func Telling(c *cohort.Cohort) int {
	var delays []float64
	for i := range c.Shipped {
		if remakes.Age(c, i) >= remakes.Horizon && remakes.Event(c, i) && c.Remade[i].Known() {
			delays = append(delays, float64(c.Remade[i]-c.Shipped[i]))
		}
	}
	if len(delays) < enoughTold {
		return usualTelling
	}
	slices.Sort(delays)
	return max(LeastAge, int(math.Ceil(stats.Quantile7(delays, 0.5))))
}

// ToAsk are the orders shipped from one day to another, not mature yet, that were
// cut with two or more known faults and of which there is no word: those with most
// faults first, then the newest.
func ToAsk(c *cohort.Cohort, m remakes.Maturity, from, to cohort.Day) []LookAt {
	type asked struct{ row, faults int }
	var rows []asked
	for i := range c.Shipped {
		if c.Shipped[i] < from || c.Shipped[i] > to || m.Is(c, i) || remakes.Event(c, i) || c.Answered[i] {
			continue
		}
		if n := len(knownFaults(c, i)); n >= enoughFaults {
			rows = append(rows, asked{i, n})
		}
	}
	slices.SortStableFunc(rows, func(a, b asked) int {
		if a.faults != b.faults {
			return b.faults - a.faults
		}
		return b.row - a.row
	})
	out := []LookAt{}
	for _, r := range rows {
		out = append(out, LookAt{c.OrderID[r.row], c.Shipped[r.row], fmt.Sprintf("cut with %d known faults and no word yet: ask how they fit", r.faults)})
	}
	return out
}

// Puzzles are the remade orders shipped from one day to another whose form was
// looked at and shows no fault, the newest first.
func Puzzles(c *cohort.Cohort, from, to cohort.Day) []LookAt {
	out := []LookAt{}
	for i := c.Len() - 1; i >= 0; i-- {
		if c.Shipped[i] >= from && c.Shipped[i] <= to && remakes.Event(c, i) && allClean(c, i) {
			out = append(out, LookAt{c.OrderID[i], c.Shipped[i], "remade" + inZone(c, i) + " though its form shows no fault: what went wrong?"})
		}
	}
	return out
}

func inZone(c *cohort.Cohort, i int) string {
	z, d := c.Zone.At(i), c.Direction.At(i)
	switch {
	case z != "" && d != "":
		return " (" + z + ", " + d + ")"
	case z != "":
		return " (" + z + ")"
	}
	return ""
}

// knownFaults are the titles of the faults of the form that was cut from.
func knownFaults(c *cohort.Cohort, i int) (titles []string) {
	for f := range form.Faults {
		if c.Cut[f][i] == form.With {
			titles = append(titles, form.Faults[f].Title)
		}
	}
	return titles
}

func allClean(c *cohort.Cohort, i int) bool {
	for f := range form.Faults {
		if s := c.Cut[f][i]; s == form.With || s == form.Unknown && form.Faults[f].Kind != form.Evident {
			return false
		}
	}
	return true
}
