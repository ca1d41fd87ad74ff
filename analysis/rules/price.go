package rules

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// Calls is what a shop's call-backs so far say of the next one.
type Calls struct {
	Success, SE float64 // share that mends the form, and its standard error; 0 where it was given
	Days        stats.Estimate
}

// CallsOf reads that off the call-backs on mature orders, as the scorecard does.
func CallsOf(c *cohort.Cohort, calls []Call, o Options) Calls {
	l := newScorer(c, remakes.MatureAfter(c, o.MatureDays), calls).ledger(calls)
	s := successOf(o, l)
	return Calls{s.share, s.se, l.MeanDays}
}
