// Package measurers says who measures well, with the care that small numbers
// need: exact funnel limits, shrunken rates, no ranking, nothing under 20
// orders. The measurer is that of the form the boots were cut from. A fault
// rate goes up when a measurer notes faults honestly; that is said beside it.
package measurers

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// LeastOrders is the number of orders below which a measurer's rates are not
// shown.
const LeastOrders = 20

// A Document is one row a measurer, in the order of their ids.
type Document struct {
	AsOf         cohort.Day       `json:"as_of"`
	Maturity     remakes.Maturity `json:"maturity"`
	MatureOrders int              `json:"mature_orders"`
	Remade       int              `json:"remade"`
	// Overall is the remake share of all mature orders with a measurer.
	Overall   stats.Estimate `json:"overall"`
	Measurers []Measurer     `json:"measurers"`
	TooFew    int            `json:"too_few"` // measurers under LeastOrders
	Warnings  []string       `json:"warnings"`
}

// A Measurer is one row.
type Measurer struct {
	ID     string `json:"measurer_id"`
	Region string `json:"region"`
	Orders int    `json:"orders"` // mature
	Remade int    `json:"remade"`
	// Expected remakes by the mix of the orders (shaft height, closure,
	// channel, wearer), faults left out: those are what a measurer answers for.
	Expected stats.Value `json:"expected"`
	// Headline is the shrunken remake share (beta-binomial, empirical Bayes).
	Headline stats.Estimate `json:"shrunken_rate"`
	Rate     stats.Estimate `json:"rate"`
	// Ratio is observed over expected remakes.
	Ratio  stats.Estimate `json:"observed_over_expected"`
	PValue stats.Value    `json:"p_value"`
	QValue stats.Value    `json:"q_value"`
	// Funnel limits of the remake share at this number of orders, by the mix:
	// 2.5 and 97.5 %, 0.1 and 99.9 %.
	Funnel Funnel `json:"funnel"`
	// Outside is "", "above 95", "above 99.8", "below 95", "below 99.8".
	Outside      string      `json:"outside"`
	Faults       []FaultRate `json:"faults"`
	TEM          []TEM       `json:"technical_error"`
	Words        string      `json:"words"`
	RemadeOrders []string    `json:"-"`
}

// A Funnel holds exact limits as shares.
type Funnel struct {
	Low998  stats.Value `json:"low_99_8"`
	Low95   stats.Value `json:"low_95"`
	High95  stats.Value `json:"high_95"`
	High998 stats.Value `json:"high_99_8"`
}

// A FaultRate is how often a measurer's forms have a fault.
type FaultRate struct {
	Fault    string         `json:"fault"`
	AtRisk   int            `json:"at_risk"` // known
	With     int            `json:"with_fault"`
	Headline stats.Estimate `json:"shrunken_rate"`
	Rate     stats.Estimate `json:"rate"`
	Funnel   Funnel         `json:"funnel"`
	Outside  string         `json:"outside"`
	QValue   stats.Value    `json:"q_value"`
}

// A Repeat is one number of a training session: the same leg measured again.
type Repeat struct {
	Session, Subject, Measurer string
	Trial                      int
	Reference                  bool // the instructor's
	Side, Point                string
	HeightMM                   float64 // NaN for foot points
	ValueMM                    float64
}

// A TEM is a measurer's technical error of measurement on one point.
type TEM struct {
	Point    string         `json:"point"`
	HeightMM stats.Value    `json:"height_mm"`
	Subjects int            `json:"subjects"`
	TEM      stats.Estimate `json:"tem_mm"`
	// Bias is the mean difference from the instructor's value.
	Bias stats.Estimate `json:"bias_mm"`
}

// Options are the choices behind a document.
type Options struct {
	MatureDays int
	Repeats    []Repeat
}
