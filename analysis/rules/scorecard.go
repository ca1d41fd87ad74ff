package rules

import (
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// An Applied rule is a Rule with what it says of each order's first form, one
// a cohort row: With is held, Without is not held, Unknown can't be judged (the
// condition is NULL; such a form goes through), NotAtRisk: there is no first
// form.
type Applied struct {
	Rule
	Held []form.State
}

// A Call is one call-back: the customer was asked to measure again.
type Call struct {
	Row        int // cohort row of its order
	Fault      string
	CalledOn   cohort.Day
	Resolved   form.State // With: resolved
	ResolvedOn cohort.Day
}

// Costs are in the shop's currency; nil where not known.
type Costs struct {
	Remake     *float64 `json:"remake"`
	Adjustment *float64 `json:"adjustment"`
	Callback   *float64 `json:"callback"`
	DayOfDelay *float64 `json:"day_of_delay"`
	// Currency is the sign the shop writes with an amount; "" for none.
	Currency string `json:"currency"`
}

// Options are the choices behind a scorecard. The zero value is the default.
type Options struct {
	MatureDays int
	// Success is the share of call-backs that mend the form; 0 takes it from
	// the call-backs in the book where there are enough, otherwise 0.7.
	Success float64
	Costs   Costs
	// Desk is what the desk would have held of the first forms; HoldShare how many
	// of them it may hold, 0 for as many as pay.
	Desk      []DeskHeld
	HoldShare float64
	// Replicates of the bootstrap (by customer) behind the corrected figures
	// and the kept promise; 0 leaves them out.
	Replicates int
	Seed       uint64
	Workers    int
	Progress   func(done, total int)
}

// A Scorecard is the scorecard of all rules.
type Scorecard struct {
	AsOf        cohort.Day       `json:"as_of"`
	Maturity    remakes.Maturity `json:"maturity"`
	FirstForms  int              `json:"first_forms"` // of mature orders
	Remade      int              `json:"remade"`
	Months      int              `json:"months"` // over which they were shipped
	Success     float64          `json:"success_share"`
	SuccessFrom string           `json:"success_from"` // where it comes from, in words
	Costs       Costs            `json:"costs"`
	Rules       []Scored         `json:"rules"`
	// Desk is what the form desk would have held: each of its verdicts, and forms
	// held from thresholds on.
	Desk []DeskLine `json:"desk"`
	// Ledger counts the call-backs of mature orders.
	Ledger   Ledger   `json:"ledger"`
	Warnings []string `json:"warnings"`
}

// A Scored rule is one line of the scorecard, on the first forms of mature
// orders.
type Scored struct {
	Rule
	Held      int            `json:"held"`
	NotHeld   int            `json:"not_held"` // judged, and let through
	Unknown   int            `json:"unknown"`  // could not be judged; not held either
	HeldShare stats.Estimate `json:"held_share"`
	// HeldAMonth is the mean number of forms held a shipping month.
	HeldAMonth stats.Estimate `json:"held_a_month"`
	// RemakesCaught are held and remade, as counted: call-backs of the past have
	// kept some away. WouldCatch is how many there would have been had all first
	// forms been cut as they came, Sensitivity their share in all remakes then.
	RemakesCaught int            `json:"remakes_caught"`
	Remakes       int            `json:"remakes"` // of orders with a first form
	WouldCatch    stats.Estimate `json:"would_catch"`
	Sensitivity   stats.Estimate `json:"sensitivity"`
	// RateHeld and RateNotHeld are remake shares of orders cut from their
	// first form, held or judged and let through. Orders called back are apart, in CalledBack.
	RateHeld    stats.Estimate `json:"rate_held"`
	RateNotHeld stats.Estimate `json:"rate_not_held"`
	Difference  stats.Estimate `json:"risk_difference"`
	CalledBack  stats.Estimate `json:"rate_called_back"`
	// AdjustedRD and AdjustedRR compare held and let-through forms with the
	// kind of boot, the wearer and time taken into account, young orders used
	// as far as they go; QValue is across the rules.
	AdjustedRD stats.Estimate `json:"adjusted_risk_difference"`
	AdjustedRR stats.Estimate `json:"adjusted_risk_ratio"`
	PValue     stats.Value    `json:"p_value"`
	QValue     stats.Value    `json:"q_value"`
	// Fraction is the share of the remakes that goes with the rule (population
	// attributable fraction, crude). Rules overlap; fractions do not add up.
	Fraction stats.Estimate `json:"population_fraction"`
	// CallsPerCatch is call-backs per remake that would have come of the held
	// forms, had all been cut as they came.
	CallsPerCatch stats.Estimate `json:"callbacks_per_remake_caught"`
	// NumberNeeded is call-backs per remake avoided; none where the interval of
	// Avoidable holds 0.
	NumberNeeded stats.Estimate `json:"number_needed"`
	// Avoidable remakes per 100 first forms: the fall of the standardised risk
	// of the held ones when what the call-back mends (Rule.Mends) is mended, the
	// other faults and the kind of boot as they are, times Scorecard.Success.
	Avoidable stats.Estimate `json:"avoidable_per_100"`
	// Corrected is Avoidable less the optimism of having been picked by its
	// rank on these same orders (bootstrap).
	Corrected stats.Estimate `json:"avoidable_corrected_per_100"`
	// CrudeAvoidable is held share x success x (rate held - rate not held): the
	// difference of two groups that differ in more than what is mended.
	CrudeAvoidable stats.Estimate `json:"crude_avoidable_per_100"`
	Net            stats.Estimate `json:"net_per_100"`
	// TooFew says in words why the rule can't be judged; empty if it can.
	TooFew   string   `json:"too_few"`
	Words    string   `json:"words"`
	Warnings []string `json:"warnings"`
	// InForce: it had begun by the as-of day and had not ended. SlippedThrough
	// counts the first forms that it held since its start and that were cut as
	// they came, young orders included.
	InForce        bool `json:"in_force"`
	SlippedThrough int  `json:"slipped_through"`
	// Since tells what happened after the rule was switched on; nil for a
	// rule without a start day.
	Since       *Since         `json:"since"`
	KeptPromise stats.Estimate `json:"kept_promise"`
	// Orders are held and remade, newest shipped first, HeldOrders all that are held,
	// UnknownOrders those that could not be judged; see [remakes.Behind].
	Orders        []string `json:"-" cbor:"orders"`
	HeldOrders    []string `json:"-" cbor:"held_orders"`
	UnknownOrders []string `json:"-" cbor:"unknown_orders"`
}

// Since is before and after a rule's start.
type Since struct {
	From cohort.Day `json:"from"`
	// Together are other rules that began (and ended) on the same days: one
	// change, told with the first of them.
	Together []string `json:"together_with"`
	// WashoutDays before the start count neither as before nor as after.
	WashoutDays int  `json:"washout_days"`
	Before      Span `json:"before"`
	After       Span `json:"after"`
	// Step is the change of the held forms' remake risk at the start, the trend
	// of all forms carried and the orders' mix adjusted for (segmented
	// regression on mature orders), in remakes per 100 orders; negative is
	// fewer.
	Step stats.Estimate `json:"step_per_100"`
	// Controlled is the same less the change of the forms that no rule holds,
	// over the same months.
	Controlled stats.Estimate `json:"against_controls_per_100"`
	Verdict    SinceVerdict   `json:"verdict"`
	// Promised is what the orders before the start said it would avoid, per
	// 100 orders, at the success share its call-backs then had.
	Promised stats.Estimate `json:"promised_per_100"`
	Calls    int            `json:"callbacks"`
	Success  stats.Estimate `json:"success_share"`
	// Remake shares of held first forms since the start.
	Mended    Span     `json:"mended"`
	CutAnyway Span     `json:"called_cut_anyway"`
	Ignored   Span     `json:"ignored"` // held by the rule, never called back
	Traps     []string `json:"traps"`
	Words     string   `json:"words"`
}

// A SinceVerdict says what changed since a rule's start. A change is told where
// Step and Controlled both leave out 0 on the same side.
type SinceVerdict string

// The verdicts.
const (
	fewerSince    SinceVerdict = "fewer"
	moreSince     SinceVerdict = "more"
	noChangeShown SinceVerdict = "no change shown"
	tooFewToTell  SinceVerdict = "too few to tell"
)

// A Span is a group of mature orders.
type Span struct {
	Orders int            `json:"orders"`
	Remade int            `json:"remade"`
	Rate   stats.Estimate `json:"rate"`
	// OrderIDs and RemadeIDs are they; see [remakes.Behind].
	OrderIDs  []string `json:"-" cbor:"order_ids"`
	RemadeIDs []string `json:"-" cbor:"remade_ids"`
}

// A Ledger counts call-backs on mature orders.
type Ledger struct {
	Calls     int            `json:"callbacks"`
	Orders    int            `json:"orders"`
	Success   stats.Estimate `json:"success_share"` // calls resolved, of those with an answer
	MeanDays  stats.Estimate `json:"mean_days"`     // call to mended
	Mended    Span           `json:"mended"`        // called back, cut from a later form
	CutAnyway Span           `json:"cut_anyway"`    // called back, cut from the first form
	NotCalled Span           `json:"not_called"`
}
