package human

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// SpreadForms is how many forms, the newest that were cut from, a Spread is made
// of at most.
const SpreadForms = 10_000

// A Spread is how a shop's own numbers of one point (or a main ratio, named as
// Ratio.String names it) are distributed among people of one sex: type-7
// quantiles, in mm or as a ratio, over N bare numbers as written.
type Spread struct {
	Name                            string
	Sex                             form.Sex
	N                               int
	P1, P5, P25, P50, P75, P95, P99 float64
}

// A RangeMonth counts the forms of one month whose numbers were judged against
// the published ranges, and those that lie outside the limits set for a whole
// form.
type RangeMonth struct {
	Month       cohort.Month
	Judged, Out int
	Forms       []string // those outside
	JudgedForms []string // all of them; none where nobody goes through so many
}
