package cohort

import "lastroom/analysis/form"

// A Factor is a column of words: a code for each row into Levels. Code 0 is
// always the level "" (not known).
type Factor struct {
	Levels []string
	Code   Column[int32]
}

// At is the word of row i.
func (f Factor) At(i int) string { return f.Levels[f.Code[i]] }

// FormFaults are the faults of one form of each order: [fault][row], the
// faults in the order of form.Faults.
type FormFaults [][]form.State

// A Cohort holds shipped orders, one a row, in columns of equal length: what
// the order was, the faults of its forms, and its follow-up as it was known at
// the end of the day AsOf. Rows stand in the order of shipping day, then
// order id, so that the same book gives the same bytes.
//
// Only new orders at risk are in it: an order that books the second making of
// another (remake_of_order_id) is not, and its shipping is no new start.
type Cohort struct {
	AsOf Day

	OrderID  []string
	Customer Column[int32] // dense codes from 0, for resampling by customer
	Received Column[Day]
	Shipped  Column[Day]
	ShaftMM  Column[float64] // NaN where the sheet has none

	Closure, Channel, Sock, Sex, Tucked, Orthotic Factor
	Measurer, MeasurerKind, Region                Factor // of the form cut from

	// Cut are the faults of the form the boots were cut from; First those of
	// the order's first form. Where an order has no form that was cut from,
	// Cut is Unknown, but for faults the order is not at risk of.
	Cut, First FormFaults
	// CutAlarm and FirstAlarm are the alarm scores of the same forms' numbers
	// (package body); NaN where they were not judged, nil where nobody asked.
	CutAlarm, FirstAlarm Column[float64]
	CutNo                Column[int16] // 1: cut from the order's first form; a later one: its form_no, at least 2; 0: none known
	CalledBack           Column[bool]  // at least one call-back on a form of the order

	// Follow-up. Remade is the day of the first report of a remake, known by
	// AsOf; Returned likewise for a return, Adjusted for an adjustment.
	Remade, Returned, Adjusted Column[Day]
	// NoDayTold: a remake was reported by AsOf, but no report of one has a day;
	// Remade is NoDay then. nil: there is no such order.
	NoDayTold Column[bool]
	// What the first remake's report said.
	Cause, Zone, Direction, Side Factor
	Cost                         Column[float64] // NaN where none given
	// Answered: the order has any outcome report at all by AsOf.
	Answered Column[bool]

	Excluded []Exclusion
}

// RemadeWithoutDay reports whether a remake of row i is known and its day is not.
func (c *Cohort) RemadeWithoutDay(i int) bool { return c.NoDayTold != nil && c.NoDayTold[i] }

// Len is the number of orders.
func (c *Cohort) Len() int { return len(c.Shipped) }

// An Exclusion counts orders that are in the book but not in the cohort, and
// says why. Some names up to a few of them.
type Exclusion struct {
	Reason string   `json:"reason"`
	Orders int      `json:"orders"`
	Some   []string `json:"some,omitempty" cbor:"some"`
}
