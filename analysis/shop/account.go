package shop

import (
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
)

// A Report is one report of fit on a shipped order, as it was written down.
type Report struct {
	Order  string
	On     cohort.Day // NoDay: not written
	Result string     // kept, adjusted, remade, returned
	Cost   float64    // NaN: not written
}

// Money is what some reports cost.
type Money struct {
	Sum float64 `json:"sum"`
	// Written reports have a cost of their own. Usual ones have none and were
	// counted at what the shop says such a thing costs; Unpriced have neither and
	// are not in the sum.
	Written  int `json:"written"`
	Usual    int `json:"usual"`
	Unpriced int `json:"unpriced"`
}

// Given reports whether any report has a cost.
func (m Money) Given() bool { return m.Written+m.Usual > 0 }

// add is both together.
func (m Money) add(o Money) Money {
	return Money{m.Sum + o.Sum, m.Written + o.Written, m.Usual + o.Usual, m.Unpriced + o.Unpriced}
}

func (m *Money) count(cost float64, usual *float64) {
	switch {
	case !math.IsNaN(cost):
		m.Sum, m.Written = m.Sum+cost, m.Written+1
	case usual != nil:
		m.Sum, m.Usual = m.Sum+*usual, m.Usual+1
	default:
		m.Unpriced++
	}
}

// An Outcome is the orders of a month that came to one end, and what that cost.
type Outcome struct {
	Orders []string `json:"orders"` // in the order of their shipping
	Money  Money    `json:"money"`  // of all reports of that end, several of one order included
}

// A Month is what became of the pairs shipped in one month.
type Month struct {
	Month   cohort.Month `json:"month"`
	Shipped int          `json:"shipped"`
	Orders  []string     `json:"orders"` // all of them
	// Within: only what was told within so many days of shipping; 0: all that is
	// known.
	Within                     int `json:"within_days"`
	Remade, Adjusted, Returned Outcome
}

// Money is that of all three ends.
func (m Month) Money() Money { return m.Remade.Money.add(m.Adjusted.Money).add(m.Returned.Money) }

// Account says what became of the orders of a month. A remake is counted as in
// package remakes: the first within a year, before any return. within is the age at
// which every order of the month is looked at, so that months of different age can
// stand beside one another; 0 takes all that is known. Reports of orders that are
// not of the month are passed over. Costs without a figure of their own are counted
// at those of c.
func Account(co *cohort.Cohort, reports []Report, c rules.Costs, month cohort.Month, within int) Month {
	a := Month{Month: month, Within: within}
	from, to := rowsOf(co, month)
	a.Shipped, a.Orders = to-from, co.OrderID[from:to]
	row := map[string]int{}
	by := func(i int, d cohort.Day) bool { // told in time
		if !d.Known() {
			return within == 0
		}
		return d <= co.AsOf && (within == 0 || int(d-co.Shipped[i]) <= within)
	}
	for i := from; i < to; i++ {
		id := co.OrderID[i]
		row[id] = i
		if remakes.Event(co, i) && by(i, co.Remade[i]) {
			a.Remade.Orders = append(a.Remade.Orders, id)
		}
		if co.Adjusted[i].Known() && by(i, co.Adjusted[i]) {
			a.Adjusted.Orders = append(a.Adjusted.Orders, id)
		}
		if co.Returned[i].Known() && by(i, co.Returned[i]) {
			a.Returned.Orders = append(a.Returned.Orders, id)
		}
	}
	for _, r := range reports {
		i, ours := row[r.Order]
		if !ours || !by(i, r.On) {
			continue
		}
		switch r.Result {
		case "remade":
			a.Remade.Money.count(r.Cost, c.Remake)
		case "adjusted":
			a.Adjusted.Money.count(r.Cost, c.Adjustment)
		case "returned":
			a.Returned.Money.count(r.Cost, nil)
		}
	}
	return a
}

// rowsOf are the rows [from, to) of a shipping month; the cohort stands in the order
// of shipping days.
func rowsOf(c *cohort.Cohort, month cohort.Month) (from, to int) {
	from, _ = slices.BinarySearch(c.Shipped, month.First())
	to, _ = slices.BinarySearch(c.Shipped, month.Last()+1)
	return from, to
}

// LateMonth is a shipping month of which more remakes were told.
type LateMonth struct {
	Month  cohort.Month `json:"month"`
	Orders []string     `json:"orders"`
}

// Late are the remakes of orders shipped before a month that were told of after a
// day, by shipping month, the newest first.
func Late(c *cohort.Cohort, before cohort.Month, since cohort.Day) []LateMonth {
	out := []LateMonth{}
	end, _ := slices.BinarySearch(c.Shipped, before.First())
	for i := end - 1; i >= 0; i-- {
		if !remakes.Event(c, i) || !c.Remade[i].Known() || c.Remade[i] <= since {
			continue
		}
		m := c.Shipped[i].Month()
		if k := len(out) - 1; k < 0 || out[k].Month != m {
			out = append(out, LateMonth{Month: m})
		}
		last := &out[len(out)-1]
		last.Orders = append(last.Orders, c.OrderID[i])
	}
	return out
}
