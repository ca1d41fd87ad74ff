package remakes

import (
	"fmt"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// What is too little to show.
const (
	// LeastOrders is the number of orders below which no rate is given.
	LeastOrders = 10
	// LeastEvents is the number of remakes, in either arm, below which no
	// ratio is given.
	LeastEvents = 5
)

const level = stats.DefaultLevel

// Rate is x of n with its Wilson interval, refused under LeastOrders.
func Rate(x, n int) stats.Estimate {
	if n < LeastOrders {
		return stats.Missing(n, "Wilson score", MoreOrders(LeastOrders-n))
	}
	return stats.Wilson(x, n, level)
}

// MoreOrders says that k more orders are needed before a figure is given.
func MoreOrders(k int) string {
	if k == 1 {
		return "too few to tell: 1 more order needed"
	}
	return fmt.Sprintf("too few to tell: %d more orders needed", k)
}

// tooFewForDifference says what is missing for a difference of two rates, or
// nothing.
func tooFewForDifference(t stats.TwoByTwo) string {
	switch {
	case t.N1() < LeastOrders:
		return fmt.Sprintf("too few to tell: %d orders with it, %d needed", t.N1(), LeastOrders)
	case t.N0() < LeastOrders:
		return fmt.Sprintf("too few to tell: %d orders without it, %d needed", t.N0(), LeastOrders)
	}
	return ""
}

// tooFewForRatio is tooFewForDifference and the rule on events.
func tooFewForRatio(t stats.TwoByTwo) string {
	if why := tooFewForDifference(t); why != "" {
		return why
	}
	switch {
	case t.A < LeastEvents:
		return fmt.Sprintf("too few to tell: %s among orders with it, %d needed", form.CountOf(t.A, "remake", "remakes"), LeastEvents)
	case t.C < LeastEvents:
		return fmt.Sprintf("too few to tell: %s among orders without it, %d needed", form.CountOf(t.C, "remake", "remakes"), LeastEvents)
	}
	return ""
}

// Difference of the two shares, refused under LeastOrders in either group.
func Difference(t stats.TwoByTwo) stats.Estimate {
	if why := tooFewForDifference(t); why != "" {
		return stats.Missing(max(t.N(), 0), "Newcombe hybrid score", why)
	}
	return stats.NewcombeDifference(t, level)
}

// Ratio of the two shares, refused under LeastOrders and under LeastEvents.
func Ratio(t stats.TwoByTwo) stats.Estimate {
	if why := tooFewForRatio(t); why != "" {
		return stats.Missing(max(t.N(), 0), "Katz log risk ratio", why)
	}
	return stats.KatzRiskRatio(t, level)
}
