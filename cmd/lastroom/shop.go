package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"sync"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/frame"
	"lastroom/analysis/rules"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sandbox"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
)

// A shop is a book with the rules and costs that go with it, as notebooks and
// the service see it. It may be used by several goroutines.
type shop struct {
	book  string
	rules []rules.Rule
	costs rules.Costs // for what the book's costs sheet does not say
	setup string      // names rules and costs, for the cache
	under string      // names the rules alone

	mu   sync.Mutex
	seen fs.FileInfo // the snapshot that state belongs to
	now  notebooks.Facts
}

// newShop is the shop of a book, with the rules of a file ("" for those that
// come with the program).
func newShop(book, rulesFile string, costs rules.Costs) (*shop, error) {
	list, text, err := readRules(book, rulesFile)
	if err != nil {
		return nil, err
	}
	return &shop{book: book, rules: list, costs: costs, setup: cache.Key(string(text), costText(costs))[:16], under: cache.Key(string(text))}, nil
}

// runner runs notebooks over the shop's book.
func (s *shop) runner() *notebooks.Runner {
	return &notebooks.Runner{Book: s, Catalogue: notebooks.Analyses, Version: version(),
		Cache: cache.In(orderbook.FilesOf(s.book).Cache()), Program: cache.Program()}
}

func (s *shop) shelf() notebooks.Library {
	return notebooks.Library{Dir: orderbook.FilesOf(s.book).Notebooks()}
}

// At opens the newest snapshot as it was known on a day.
func (s *shop) At(ctx context.Context, asOf cohort.Day) (notebooks.Source, error) {
	if err := isBook(s.book); err != nil {
		return nil, err
	}
	r, seen, err := s.openSeen(ctx, asOf)
	if err != nil {
		return nil, err
	}
	load, err := r.Load(ctx)
	if err != nil {
		r.Close()
		return nil, err
	}
	return &shopSource{Reader: r, shop: s, seen: seen,
		facts: notebooks.Facts{AsOf: r.AsOf(), Hash: r.ContentHash(), Load: load, Setup: s.setup}}, nil
}

// openSeen opens the newest snapshot and says which file that is. Opening may
// itself put a newer file in its place, and so may a load: then again.
func (s *shop) openSeen(ctx context.Context, asOf cohort.Day) (*orderbook.Reader, fs.FileInfo, error) {
	snapshot := orderbook.FilesOf(s.book).Snapshot()
	for {
		before, statErr := os.Stat(snapshot)
		r, err := orderbook.OpenReader(ctx, s.book, orderbook.Options{AsOf: asOf, Program: program()})
		if err != nil {
			return nil, nil, err
		}
		after, err := os.Stat(snapshot)
		if err == nil && statErr == nil && sameFile(before, after) {
			return r, after, nil
		}
		r.Close()
		if err != nil {
			return nil, nil, err
		}
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
	}
}

func sameFile(a, b fs.FileInfo) bool { return os.SameFile(a, b) && a.ModTime().Equal(b.ModTime()) }

// Exists reports whether there is a book.
func (s *shop) Exists() bool {
	_, err := os.Stat(s.book)
	return err == nil
}

// State says which state of the book is the newest. It opens the book only
// when the snapshot is another file than the last time.
func (s *shop) State(ctx context.Context) (notebooks.Facts, error) {
	if !s.Exists() {
		return notebooks.Facts{AsOf: cohort.NoDay}, nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	now, err := os.Stat(orderbook.FilesOf(s.book).Snapshot())
	if err == nil && s.seen != nil && sameFile(now, s.seen) {
		return s.now, nil
	}
	src, err := s.At(ctx, cohort.NoDay)
	if err != nil {
		return notebooks.Facts{}, err
	}
	defer src.Close()
	s.seen, s.now = src.(*shopSource).seen, src.Facts()
	return s.now, nil
}

// A shopSource is one snapshot of the book, read as of one day.
type shopSource struct {
	*orderbook.Reader
	shop  *shop
	facts notebooks.Facts
	seen  fs.FileInfo

	mu     sync.Mutex
	orders *cohort.Cohort
	held   []rules.Applied
}

func (s *shopSource) Facts() notebooks.Facts { return s.facts }
func (s *shopSource) Rules() []rules.Rule    { return s.shop.rules }

// Cohort reads the orders once, with the shop's rules; without them where one
// of them can't be worked out.
func (s *shopSource) Cohort(ctx context.Context) (*cohort.Cohort, error) {
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
func (s *shopSource) HoldFirstForms(ctx context.Context) ([]rules.Applied, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.held == nil {
		if err := s.read(ctx); err != nil {
			return nil, err
		}
	}
	return s.held, nil
}

// readOrders is what is kept of a state of the book for the next command.
type readOrders struct {
	Orders *cohort.Cohort
	Held   [][]form.State // by rule
}

// read reads the orders and applies the rules, or finds what was read before
// from the same state of the book under the same rules.
func (s *shopSource) read(ctx context.Context) error {
	dir := cache.In(orderbook.FilesOf(s.shop.book).Cache())
	key := cache.Key("orders", cache.Program(), s.facts.Hash, s.facts.AsOf.String(), s.shop.under)
	kept, err := cache.Of(dir, key, func() (k readOrders, err error) {
		var applied []rules.Applied
		k.Orders, applied, err = s.Reader.HoldFirstForms(ctx, s.shop.rules)
		for _, a := range applied {
			k.Held = append(k.Held, a.Held)
		}
		return k, err
	})
	if err != nil {
		return err
	}
	s.orders, s.held = kept.Orders, []rules.Applied{}
	for i, held := range kept.Held {
		s.held = append(s.held, rules.Applied{Rule: s.shop.rules[i], Held: held})
	}
	return nil
}

// readNumbers is what is kept of the shop's measurements as a whole.
type readNumbers struct {
	Spreads []human.Spread
	Months  []human.RangeMonth
}

// numbers looks over the measurements, or finds what was seen before in the same
// state of the book.
func (s *shopSource) numbers(ctx context.Context) (readNumbers, error) {
	key := cache.Key("numbers", cache.Program(), s.facts.Hash, s.facts.AsOf.String())
	return cache.Of(cache.In(orderbook.FilesOf(s.shop.book).Cache()), key, func() (n readNumbers, err error) {
		if n.Spreads, err = s.Reader.Spreads(ctx); err != nil {
			return n, err
		}
		n.Months, err = s.Reader.RangeMonths(ctx)
		return n, err
	})
}

// Spreads gives the distribution of the shop's own foot numbers.
func (s *shopSource) Spreads(ctx context.Context) ([]human.Spread, error) {
	n, err := s.numbers(ctx)
	return n.Spreads, err
}

// RangeMonths counts the forms outside the published ranges by month.
func (s *shopSource) RangeMonths(ctx context.Context) ([]human.RangeMonth, error) {
	n, err := s.numbers(ctx)
	return n.Months, err
}

// warm leaves what the next command starts from, once sheets were loaded. It
// is no harm if it can't.
func warm(ctx context.Context, book string) {
	s, err := newShop(book, "", rules.Costs{})
	if err != nil {
		return
	}
	src, err := s.At(ctx, cohort.NoDay)
	if err != nil {
		return
	}
	defer src.Close()
	var both sync.WaitGroup
	both.Go(func() { _, _ = src.HoldFirstForms(ctx) })
	both.Go(func() { _, _ = src.Spreads(ctx) })
	both.Wait()
}

// Costs are the book's, completed by those of the command line.
func (s *shopSource) Costs(ctx context.Context) (rules.Costs, error) {
	c, err := s.Reader.Costs(ctx)
	return fillCosts(c, s.shop.costs), err
}

// Query runs a person's SQL in the child process. The child opens the newest
// snapshot; should a load have come in between, the answer is not given.
func (s *shopSource) Query(ctx context.Context, q frame.Query) (frame.Frame, error) {
	f, err := sandbox.Run(ctx, s.shop.book, q, sandbox.Options{AsOf: s.facts.AsOf, Program: program()})
	if err != nil {
		return frame.Frame{}, err
	}
	if now, err := s.shop.State(ctx); err != nil || now.Hash != s.facts.Hash {
		return frame.Frame{}, errors.Join(errors.New("sheets were loaded while this ran; run it again"), err)
	}
	return f, nil
}

// Changes counts what loads after an earlier state brought.
func (s *shopSource) Changes(ctx context.Context, since notebooks.Facts) (notebooks.Changes, error) {
	c, err := s.Reader.Changes(ctx, since.Load, since.AsOf)
	of := func(a orderbook.Affected) notebooks.Affected {
		return notebooks.Affected{Orders: a.Orders, Some: a.Some}
	}
	return notebooks.Changes{Loads: c.Loads, NewOrders: of(c.NewOrders), LateOutcomes: of(c.LateOutcomes),
		CorrectedOrders: of(c.CorrectedOrders), RemovedOrders: of(c.RemovedOrders)}, err
}
