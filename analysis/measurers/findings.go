// Package measurers says who measures well, with the care that small numbers
// need: shares drawn towards everybody's, no ranking, nothing under 20 orders, no
// "as expected" where a doubling would not have shown. The measurer is that of the
// form the boots were cut from.
//
//  1. [Measure] counts each measurer's mature orders and what their kinds of boot,
//     channel and wearer let expect ([remakes.ExpectedByMix]).
//  2. Who is alone in a channel is not compared: what is the channel's doing and
//     what is the measurer's can't be told apart.
//  3. The others are one [stats.Hierarchy]: their effects beyond the mix are draws
//     from one distribution of unknown mean and spread. Share, ratio and verdict
//     come from its posterior.
//  4. Fault rates come from such a hierarchy too; they go up when a measurer notes
//     faults honestly, which is said beside them. Repeats of training sessions give
//     technical errors.
package measurers

import (
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/signs"
	"lastroom/analysis/stats"
)

// LeastOrders is the number of orders below which a measurer's rates are not
// shown.
const LeastOrders = 20

// LeastForms is the number of orders, mature or not, from which on a newcomer has a
// page: most with fewer are wearers who measured themselves once (judgement).
const LeastForms = 5

// A Comparison is one row a measurer, in the order of their ids.
type Comparison struct {
	AsOf         cohort.Day       `json:"as_of"`
	Maturity     remakes.Maturity `json:"maturity"`
	MatureOrders int              `json:"mature_orders"`
	Remade       int              `json:"remade"`
	// Overall is the remake share of all mature orders with a measurer.
	Overall   stats.Estimate `json:"overall"`
	Measurers []Measurer     `json:"measurers"`
	// Newcomers are the measurers under LeastOrders who have LeastForms: what their
	// forms show is told, of remakes nothing.
	Newcomers []Measurer `json:"newcomers"`
	TooFew    int        `json:"too_few"` // measurers under LeastOrders
	Warnings  []string   `json:"warnings"`
}

// Named is the measurer of that id, a newcomer or not.
func (d Comparison) Named(id string) (Measurer, bool) {
	for _, m := range slices.Concat(d.Measurers, d.Newcomers) {
		if m.ID == id {
			return m, true
		}
	}
	return Measurer{}, false
}

// IDs are all measurers of which something is told.
func (d Comparison) IDs() (ids []string) {
	for _, m := range slices.Concat(d.Measurers, d.Newcomers) {
		ids = append(ids, m.ID)
	}
	slices.Sort(ids)
	return ids
}

// A Measurer is one row.
type Measurer struct {
	ID     string `json:"measurer"`
	Kind   string `json:"kind"` // home, dealer, shop; "" where the sheets don't say
	Region string `json:"region"`
	Orders int    `json:"orders"` // mature
	Remade int    `json:"remade"`
	// Expected are the remakes that the other measurers together would have
	// with these orders (shaft height, closure, channel, wearer), faults left out: those
	// are what a measurer answers for.
	Expected stats.Estimate `json:"expected"`
	// Share is the remake share drawn towards what is expected.
	Share stats.Estimate `json:"share"`
	// Rate is the share as counted.
	Rate stats.Estimate `json:"rate"`
	// Ratio is Share over that of the others with these orders.
	Ratio   stats.Estimate `json:"ratio"`
	Verdict Verdict        `json:"verdict"`
	// Power is the chance that twice the expected share would have given the
	// verdict "more".
	Power  stats.Value              `json:"power_at_twice"`
	Faults []FaultRate              `json:"faults"`
	TEM    []repeatability.Measured `json:"technical_error"`
	// PerForm is the number of noted and counted faults a form.
	PerForm stats.Estimate `json:"faults_per_form"`
	// Habits is one row where the measurer taped legs beside an instructor, else none.
	Habits       []repeatability.Habit `json:"habits"`
	Signs        []signs.Sign          `json:"signs"`
	Trend        Trend                 `json:"trend"`
	Words        string                `json:"words"`
	RemadeOrders []string              `json:"-" cbor:"remade_orders"`
	// MatureOrders are those counted in Orders; see [remakes.Behind].
	MatureOrders []string `json:"-" cbor:"mature_orders"`
}

// A Verdict is what may be said of a measurer.
type Verdict string

// The verdicts. More and Fewer are there where the interval of the ratio leaves
// out 1, AsExpected only where a doubling would have shown with leastPower.
const (
	AsExpected    Verdict = "as expected"
	More          Verdict = "more"
	Fewer         Verdict = "fewer"
	TooFewToTell  Verdict = "too few to tell"
	NotComparable Verdict = "not comparable"
)

// A Funnel holds exact limits as shares.
type Funnel struct {
	Low998  stats.Value `json:"low_99_8"`
	Low95   stats.Value `json:"low_95"`
	High95  stats.Value `json:"high_95"`
	High998 stats.Value `json:"high_99_8"`
}

// A FaultRate is how often a measurer's forms have a fault.
type FaultRate struct {
	Fault  string         `json:"fault"`
	AtRisk int            `json:"forms"` // on which it could be and is known
	With   int            `json:"with"`
	Share  stats.Estimate `json:"share"` // drawn towards all measurers'
	Rate   stats.Estimate `json:"rate"`
	// Expected is the share that all others have on boots as tall.
	Expected stats.Estimate `json:"expected"`
	Funnel   Funnel         `json:"funnel"`
	Outside  string         `json:"outside"`
	QValue   stats.Value    `json:"q_value"`
	// Orders are those cut from forms with it, JudgedOrders those counted in AtRisk, newest
	// first; see [remakes.Behind].
	Orders       []string `json:"-" cbor:"orders"`
	JudgedOrders []string `json:"-" cbor:"judged_orders"`
}

// A Trend is what changed since a measurer was trained; a change since then need not
// come from it.
type Trend struct {
	TrainedOn cohort.Day `json:"trained_on"` // NoDay: not written
	Before    Period     `json:"before"`
	After     Period     `json:"after"`
	// Change is of the faults a form, after less before; Others the same of all other
	// measurers' forms over the same days.
	Change stats.Estimate `json:"change"`
	Others stats.Estimate `json:"change_of_others"`
	Words  string         `json:"words"`
}

// A Period is the forms of a time.
type Period struct {
	Forms  int            `json:"forms"`
	Faults stats.Estimate `json:"faults_per_form"` // noted or counted ones
	Orders int            `json:"mature_orders"`
	Remade stats.Estimate `json:"remade"` // share of the mature orders
	// FormOrders are those of the forms, MatureOrders the mature ones; see [remakes.Behind].
	FormOrders   []string `json:"-" cbor:"form_orders"`
	MatureOrders []string `json:"-" cbor:"orders_counted"`
}

// Options are the choices behind a comparison.
type Options struct {
	MatureDays int
	Trained    map[string]cohort.Day
	Forms      []signs.Form
	Repeats    []repeatability.Repeat
}
