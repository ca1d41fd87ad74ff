package workshop

import (
	"context"
	"errors"
	"io/fs"
	"slices"
	"sync"

	"lastroom/analysis/body"
	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/frame"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop/ruling"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sandbox"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
)

// A State is one snapshot of the book, read as of one day, with what the shop's
// rules and costs add: a notebooks.Source.
type State struct {
	*orderbook.Reader
	workshop *Workshop
	rules    ruling.Rules // as they were when the state was opened
	facts    notebooks.Facts
	seen     fs.FileInfo

	mu     sync.Mutex
	orders *cohort.Cohort
	held   []rules.Applied
	desk   []rules.Applied // what desk.Conditions said

	learning sync.Mutex
	learnt   *risk.Learnt
	fits     risk.Fits // of the orders, for what is learnt and how it comes true
}

func (s *State) Facts() notebooks.Facts { return s.facts }
func (s *State) Rules() []rules.Rule    { return s.rules.List }

// Cohort reads the orders once, with the shop's rules; without them where one
// of them can't be worked out.
func (s *State) Cohort(ctx context.Context) (*cohort.Cohort, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.orders != nil {
		return s.orders, nil
	}
	err := s.read(ctx)
	if err != nil && ctx.Err() == nil {
		s.orders, err = s.Reader.Cohort(ctx)
	}
	return s.orders, err
}

// HoldFirstForms says what the shop's rules say of the orders.
func (s *State) HoldFirstForms(ctx context.Context) ([]rules.Applied, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.held == nil {
		if err := s.read(ctx); err != nil {
			return nil, err
		}
	}
	return s.held, nil
}

// HoldAlso says what one more rule says of the orders.
func (s *State) HoldAlso(ctx context.Context, r rules.Rule) (rules.Applied, error) {
	_, applied, err := s.Reader.HoldFirstForms(ctx, []rules.Rule{r})
	if err != nil {
		return rules.Applied{}, BadInput(err)
	}
	return applied[0], nil
}

// readOrders is what is kept of a state of the book for the next command.
type readOrders struct {
	Orders *cohort.Cohort
	Held   [][]form.State // by rule, the desk's after the shop's
}

// read reads the orders and applies the rules, or finds what was read before
// from the same state of the book under the same rules.
func (s *State) read(ctx context.Context) error {
	all := slices.Concat(s.rules.List, desk.Conditions(s.rules.List, s.facts.AsOf, body.DefaultFalseAlarms))
	key := cache.Key("orders", cache.Program(), s.facts.Hash, s.facts.AsOf.String(), s.rules.Key)
	kept, err := cache.Of(s.workshop.cache(), key, func() (k readOrders, err error) {
		var applied []rules.Applied
		k.Orders, applied, err = s.Reader.HoldFirstForms(ctx, all)
		for _, a := range applied {
			k.Held = append(k.Held, a.Held)
		}
		return k, err
	})
	if err != nil {
		return err
	}
	var applied []rules.Applied
	for i, held := range kept.Held {
		applied = append(applied, rules.Applied{Rule: all[i], Held: held})
	}
	own := len(s.rules.List)
	s.orders, s.held, s.desk = kept.Orders, applied[:own:own], applied[own:]
	return nil
}

// readNumbers is what is kept of the shop's measurements as a whole.
type readNumbers struct {
	Spreads []human.Spread
	Months  []human.RangeMonth
}

// numbers looks over the measurements, or finds what was seen before in the same
// state of the book.
func (s *State) numbers(ctx context.Context) (readNumbers, error) {
	key := cache.Key("numbers", cache.Program(), s.facts.Hash, s.facts.AsOf.String())
	return cache.Of(s.workshop.cache(), key, func() (n readNumbers, err error) {
		if n.Spreads, err = s.Reader.Spreads(ctx); err != nil {
			return n, err
		}
		n.Months, err = s.Reader.RangeMonths(ctx)
		return n, err
	})
}

// Spreads gives the distribution of the shop's own foot numbers.
func (s *State) Spreads(ctx context.Context) ([]human.Spread, error) {
	n, err := s.numbers(ctx)
	return n.Spreads, err
}

// RangeMonths counts the forms outside the published ranges by month.
func (s *State) RangeMonths(ctx context.Context) ([]human.RangeMonth, error) {
	n, err := s.numbers(ctx)
	return n.Months, err
}

// Costs are the book's, completed by those of the command line.
func (s *State) Costs(ctx context.Context) (rules.Costs, error) {
	c, err := s.Reader.Costs(ctx)
	return filled(c, s.workshop.costs), err
}

// Query runs a person's SQL in the child process. The child opens the newest
// snapshot; should a load have come in between, the answer is not given.
func (s *State) Query(ctx context.Context, q frame.Query) (frame.Frame, error) {
	f, err := sandbox.Run(ctx, s.workshop.book, q, sandbox.Options{AsOf: s.facts.AsOf, Program: Program()})
	if err != nil {
		return frame.Frame{}, err
	}
	if now, err := s.workshop.State(ctx); err != nil || now.Hash != s.facts.Hash {
		return frame.Frame{}, errors.Join(errors.New("sheets were loaded while this ran; run it again"), err)
	}
	return f, nil
}

// Changes counts what loads after an earlier state brought.
func (s *State) Changes(ctx context.Context, since notebooks.Facts) (cohort.Changes, error) {
	return s.Reader.Changes(ctx, since.Load, since.AsOf)
}
