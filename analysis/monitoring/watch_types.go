package monitoring

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// A Month is one shipping month.
type Month struct {
	Month   cohort.Month `json:"month"`
	Shipped int          `json:"shipped"`
	// Remade counts the events known by the as-of day.
	Remade int            `json:"remade"`
	Rate   stats.Estimate `json:"rate"`
	// Mature: every order of the month is. Only then is it held against the
	// limits; a younger month is drawn hollow.
	Mature bool `json:"mature"`
	// YoungestAge is the age in days of the month's youngest order.
	YoungestAge int `json:"youngest_age"`
	// Baseline: one of the months that say what is usual. It has no limits.
	Baseline bool `json:"baseline"`
	// Low and High are the limits as shares: those of the baseline's share for
	// the month's own mix and number of orders, the baseline's error included.
	Low    stats.Value `json:"low"`
	High   stats.Value `json:"high"`
	Signal string      `json:"signal"` // "", "above", "below"
	// Equal is the month held against what is usual: a young one against
	// earlier months at the age of its youngest order, a mature one against
	// its limits.
	Equal EqualAge `json:"equal_age"`
	// Orders are the month's remade ones, ShippedOrders all; see [remakes.Behind].
	Orders        []string `json:"-" cbor:"orders"`
	ShippedOrders []string `json:"-" cbor:"shipped_orders"`

	expected, atHorizon float64 `cbor:"-"` // remakes by mix, by the as-of day and in all
	usual               float64 `cbor:"-"` // the former at the baseline's level
	lowest, highest     int     `cbor:"-"` // limits as counts
}

// A Baseline are the months that say what is usual.
type Baseline struct {
	From   cohort.Month   `json:"from"`
	To     cohort.Month   `json:"to"`
	Months int            `json:"months"`
	Orders int            `json:"orders"`
	Remade int            `json:"remade"`
	Share  stats.Estimate `json:"share"`

	expected float64 `cbor:"-"` // remakes by mix
}

// An EqualAge compares a month with earlier months at the same age. The usual
// range is wide: leaving it is a signal, and rare while nothing has changed.
type EqualAge struct {
	Age       int            `json:"age_days"`
	Remade    int            `json:"remade"` // within Age days of shipping
	Shipped   int            `json:"shipped"`
	Rate      stats.Estimate `json:"rate"`
	Months    int            `json:"earlier_months"`
	EarlierN  int            `json:"earlier_orders"`
	EarlierX  int            `json:"earlier_remade"`
	UsualLow  *int           `json:"usual_low"` // nil: too little to say what is usual
	UsualHigh *int           `json:"usual_high"`
	Verdict   string         `json:"verdict"` // "usual", "more", "fewer", "unknown"
	Sentence  string         `json:"sentence"`
}

// A Monthly is the series of shipping months.
type Monthly struct {
	AsOf     cohort.Day       `json:"as_of"`
	Maturity remakes.Maturity `json:"maturity"`
	Months   []Month          `json:"months"`
	// Centre is the pooled remake share of the mature months.
	Centre       stats.Estimate `json:"centre"`
	MatureMonths int            `json:"mature_months"`
	// Baseline is nil while too few months are mature.
	Baseline *Baseline `json:"baseline"`
	// NoWord: nobody has told of any order how it fits, so that no remake is no news.
	NoWord   bool     `json:"no_word"`
	Method   string   `json:"method"`
	Warnings []string `json:"warnings"`

	why string `cbor:"-"` // there is no baseline
}

// A Curve is the cumulative remake share of one shipping quarter by days after
// shipping.
type Curve struct {
	Quarter cohort.Month `json:"quarter"` // the month that starts it
	Orders  int          `json:"orders"`
	Remade  int          `json:"remade"`
	Mature  bool         `json:"mature"` // every order of the quarter is
	Points  []CurvePoint `json:"points"`
}

// A CurvePoint is a step of a Curve. Share is the Kaplan-Meier share (only
// the remake, the as-of day and day 365 end follow-up), Low and High its
// Greenwood limits on the log-log scale. Competing is the Aalen-Johansen
// cumulative incidence with a return for refund as the competing end,
// Returned that of the return.
type CurvePoint struct {
	Day       int         `json:"day"`
	AtRisk    int         `json:"at_risk"`
	Remade    int         `json:"remade"`
	Share     stats.Value `json:"share"`
	Low       stats.Value `json:"low"`
	High      stats.Value `json:"high"`
	Competing stats.Value `json:"competing_share"`
	Returned  stats.Value `json:"returned_share"`
}

// A Curves document holds all quarters and, last in reading, all orders.
type Curves struct {
	AsOf     cohort.Day       `json:"as_of"`
	Maturity remakes.Maturity `json:"maturity"`
	Quarters []Curve          `json:"quarters"`
	All      Curve            `json:"all"`
	// At are the shares at fixed ages, all orders: 30, 60, 120, 365 days.
	At       []ShareAt `json:"at"`
	Method   string    `json:"method"`
	Warnings []string  `json:"warnings"`
}

// A ShareAt is the cumulative remake share at an age.
type ShareAt struct {
	Day       int            `json:"day"`
	Share     stats.Estimate `json:"share"`
	Competing stats.Estimate `json:"competing_share"`
}

// A Trend is the monitored series: does the workshop remake more than it did,
// its mix of orders taken into account?
type Trend struct {
	AsOf cohort.Day `json:"as_of"`
	// Statement is what all charts together say.
	Statement string `json:"statement"`
	// FalseAlarms is the chance of any signal on any chart in a year in which
	// nothing has changed, on average over baselines as they are estimated.
	FalseAlarms float64 `json:"false_alarms_a_year"`
	// Signals are the departures from what is usual, each once, however many
	// charts show it.
	Signals []Signal `json:"signals"`
	Monthly Monthly  `json:"monthly"`
	// Laney is given where the months vary more than binomial chance allows.
	Laney    Laney    `json:"laney"`
	Charts   []Chart  `json:"charts"` // "risk_adjusted_cusum", "risk_adjusted_cusum_better", "g"
	Words    []string `json:"words"`
	Warnings []string `json:"warnings"`
}

// A Laney is the p' chart's view of the months.
type Laney struct {
	SigmaZ stats.Value   `json:"sigma_z"`
	Used   bool          `json:"used"`
	Words  string        `json:"words"`
	Limits []monthLimits `json:"limits"`
}

// monthLimits are a month's limits on a chart of shares.
type monthLimits struct {
	Month cohort.Month `json:"month"`
	Low   stats.Value  `json:"low"`
	High  stats.Value  `json:"high"`
	Out   bool         `json:"out"`
}

// A Chart is one monitored statistic, step by step.
type Chart struct {
	Name     string      `json:"name"`
	Title    string      `json:"title"`
	Centre   stats.Value `json:"centre"`
	Limit    stats.Value `json:"limit"`
	LowLimit stats.Value `json:"low_limit"`
	// RunLength is the mean number of orders (or remakes, as Unit says) to a
	// false alarm while nothing has changed, if the baseline's share is the true
	// one; RunLengthLow and RunLengthHigh are its 95 % range over the shares
	// that the baseline leaves possible. ShiftRunLength is to an alarm after
	// the shift the chart is tuned for.
	RunLength      stats.Value `json:"in_control_run_length"`
	RunLengthLow   stats.Value `json:"in_control_run_length_low"`
	RunLengthHigh  stats.Value `json:"in_control_run_length_high"`
	ShiftRunLength stats.Value `json:"shifted_run_length"`
	Unit           string      `json:"unit"`
	Tuned          string      `json:"tuned"` // in words
	Steps          []Step      `json:"steps"`
	Signals        []Signal    `json:"signals"`
	Warnings       []string    `json:"warnings"`
}

// A Step is a chart's value after a month (CUSUM charts: at the end of the
// shipping month; g chart: at a remake).
type Step struct {
	Month cohort.Month `json:"month"`
	Day   cohort.Day   `json:"day"`
	Value stats.Value  `json:"value"`
	Peak  stats.Value  `json:"peak"` // highest within the month
	Low   stats.Value  `json:"low"`
	High  stats.Value  `json:"high"`
}

// A Signal is one departure from what is usual.
type Signal struct {
	Day       cohort.Day `json:"day"`       // shipping day of the order at which a limit was reached
	Order     string     `json:"order"`     // "" for months
	Direction string     `json:"direction"` // "worse" or "better"
	// From is the shipping day since which the sum had been above 0, a rough
	// guess at when it began; Until the day it was back at 0, none while it is
	// not.
	From  cohort.Day `json:"from"`
	Until cohort.Day `json:"until"`
	// Charts that show it: names of charts, or "months", "young months".
	Charts []string `json:"charts"`
}
