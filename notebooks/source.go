package notebooks

import (
	"context"
	"fmt"
	"time"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/instructions"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/analysis/signs"
)

// A Book opens the order book for reading.
type Book interface {
	// At opens the newest snapshot of the book as it was known at the end of
	// the day asOf; NoDay is the newest day in the book. Every answer of the
	// Source comes from that one snapshot. Close it.
	At(ctx context.Context, asOf cohort.Day) (Source, error)
}

// A Source is one state of the order book: one snapshot, one as-of day.
type Source interface {
	Facts() Facts
	// Query runs one SELECT that a person wrote, on a clean connection, locked
	// away from files and settings. Anything else is refused with a *frame.Error.
	Query(ctx context.Context, q frame.Query) (frame.Frame, error)
	// Cohort is the table of orders that the analyses read. HoldFirstForms,
	// which is what Rules say, and CallBacks speak of its rows. Asking for
	// HoldFirstForms first reads both in one pass.
	Cohort(ctx context.Context) (*cohort.Cohort, error)
	HoldFirstForms(ctx context.Context) ([]rules.Applied, error)
	CallBacks(ctx context.Context, c *cohort.Cohort) ([]rules.Call, error)
	// HoldDesk is what the form desk would have held of the cohort's first forms, if
	// it may hold a share of them; 0: as many as pay.
	HoldDesk(ctx context.Context, share float64) ([]rules.DeskHeld, error)
	// HoldAlso says what one more rule says of the cohort's first forms, and
	// FirstFormsHeld which of those received in some days it holds. A condition
	// that is none is refused with an error that names the rule.
	HoldAlso(ctx context.Context, r rules.Rule) (rules.Applied, error)
	FirstFormsHeld(ctx context.Context, r rules.Rule, from, to cohort.Day) ([]string, error)
	// Rules are the shop's intake rules, or those that come with the program.
	Rules() []rules.Rule
	Costs(ctx context.Context) (rules.Costs, error)
	Repeats(ctx context.Context) ([]repeatability.Repeat, error)
	// Reports are the reports of fit of the orders shipped from one day to another.
	Reports(ctx context.Context, from, to cohort.Day) ([]shop.Report, error)
	// Trained says when measurers were trained; FormsOfMeasurers are the newest
	// forms of each who has enough of them, oldest first.
	Trained(ctx context.Context) (map[string]cohort.Day, error)
	// Instructions are the forms by the letter of their instructions and channel.
	Instructions(ctx context.Context) ([]instructions.Cell, error)
	// KeptTwice are the numbers of several pairs of one customer that were all kept.
	KeptTwice(ctx context.Context) ([]repeatability.Repeat, error)
	FormsOfMeasurers(ctx context.Context) ([]signs.Form, error)
	Spreads(ctx context.Context) ([]human.Spread, error)
	RangeMonths(ctx context.Context) ([]human.RangeMonth, error)
	// Risks is the kept risk model that serves this state of the book. Cases are
	// the orders with a form as it sees them: open ones, or all.
	Risks(ctx context.Context) (*risk.Learnt, error)
	// Fits are the models of the cohort that were fitted so far.
	Fits() *risk.Fits
	Cases(ctx context.Context, all bool) ([]risk.Order, error)
	// CallPrice is what remakes and call-backs cost, and how often a call-back mends.
	CallPrice(ctx context.Context) (risk.Price, error)
	// Changes counts what loads after a given one brought.
	Changes(ctx context.Context, since Facts) (cohort.Changes, error)
	Close() error
}

// Facts say which state of the book a Source reads.
type Facts struct {
	AsOf cohort.Day `json:"as_of"`
	Hash string     `json:"book_hash"` // of the content, not of the file
	Load int64      `json:"load"`      // number of the newest load
	// First is the day of the first order, Newest the newest of the book; NoDay where
	// the book was looked at as of its newest day, which is then AsOf.
	First  cohort.Day `json:"-"`
	Newest cohort.Day `json:"-"`
	// Month is the shipping month that is looked at unasked.
	Month cohort.Month `json:"-"`
	// Setup names what else results rest on and the book does not hold: the
	// rules file, costs given by hand. It may be empty.
	Setup string `json:"setup,omitempty"`
}

// Ordered says what is wrong with an as-of day before the first order; nil: nothing.
func (f Facts) Ordered() error {
	if !f.First.Known() || f.AsOf >= f.First {
		return nil
	}
	return fmt.Errorf("the book has no order by %s: its first is of %s, its newest day is %s; ask as of a day between them", f.AsOf, f.First, f.Newest)
}

// Beyond says what an as-of day after the newest of the book does to what is counted;
// "" where the book reaches that far. Silence after its newest day is no pair that fits.
func (f Facts) Beyond() string {
	if !f.Newest.Known() || f.AsOf <= f.Newest {
		return ""
	}
	return fmt.Sprintf("The newest day in the book is %s: what was told from then to %s is not in it, so pairs may be called out long enough, and kept, of which word is still missing. Load newer sheets, or ask as of its newest day.", f.Newest, f.AsOf)
}

// A Clock tells the time of day; only the store of runs, the progress lines and
// the service's ledgers look at it, never a computation.
type Clock func() time.Time
