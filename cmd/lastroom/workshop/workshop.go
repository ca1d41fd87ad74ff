package workshop

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop/ruling"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/keyed"
	"lastroom/ingest/keyed/loading"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/upkeep"
	"lastroom/notebooks"
	"lastroom/notebooks/analyses"
	"lastroom/notebooks/cache"
	"lastroom/notebooks/execution"
)

// Version is the revision the program was built from, as far as the build knows.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	if v == "" || v == "(devel)" {
		v = "development"
	}
	return v
}

// Program is what ledgers and pages call this program.
func Program() string { return "lastroom " + Version() }

// Progress is told how far long work is: done of total steps of a kind of
// work, total 0 where that is not known. It may be called by several goroutines.
type Progress func(step string, done, total int)

// Share gives progress in thousandths, for work that tells a share.
func (p Progress) Share() func(step string, done float64) {
	return func(step string, done float64) { p(step, int(done*1000), 1000) }
}

// Silent is a Progress that nobody looks at.
func Silent(string, int, int) {}

// A Setup says which book is worked with, and what goes with it.
type Setup struct {
	Book  string
	Rules string      // a file of intake rules; "": rules.yaml beside the book, or one rule a fault
	Costs rules.Costs // for what the book's costs sheet does not say
	Clock notebooks.Clock
}

// A Workshop is an order book with the rules and costs that go with it, as
// notebooks see it. It may be used by several goroutines.
type Workshop struct {
	book  string
	clock notebooks.Clock
	ruled *ruling.File
	costs rules.Costs

	mu     sync.Mutex
	seen   fs.FileInfo // the snapshot that newest belongs to
	newest notebooks.Facts
}

// Open makes a workshop ready; its book is opened by each question, and need
// not be there yet.
func Open(s Setup) (*Workshop, error) {
	if s.Clock == nil {
		s.Clock = time.Now
	}
	ruled, err := ruling.Open(s.Book, s.Rules)
	if err != nil {
		return nil, BadInput(err)
	}
	return &Workshop{book: s.Book, clock: s.Clock, ruled: ruled, costs: s.Costs}, nil
}

// setup names rules and costs, for the cache.
func (w *Workshop) setup(r ruling.Rules) string { return cache.Key(r.Text, costText(w.costs))[:16] }

// Runner runs notebooks over the workshop's book.
func (w *Workshop) Runner() *execution.Runner {
	return &execution.Runner{Book: w, Catalogue: analyses.All, Version: Version(), Cache: w.cache(), Program: cache.Program()}
}

func (w *Workshop) files() bookfile.Files { return bookfile.FilesOf(w.book) }
func (w *Workshop) cache() cache.Dir      { return cache.In(w.files().Cache()) }

func (w *Workshop) bookshelf() notebooks.Library {
	return notebooks.Library{Dir: w.files().Notebooks()}
}

// Book is where the book is.
func (w *Workshop) Book() string { return w.book }

// Exists reports whether there is a book.
func (w *Workshop) Exists() bool {
	_, err := os.Stat(w.book)
	return err == nil
}

// State says which state of the book is the newest. It opens the book only
// when the snapshot is another file than the last time.
func (w *Workshop) State(ctx context.Context) (notebooks.Facts, error) {
	if !w.Exists() {
		return notebooks.Facts{AsOf: cohort.NoDay}, nil
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	now, err := os.Stat(w.files().Snapshot())
	if err == nil && w.seen != nil && sameFile(now, w.seen) {
		w.newest.Setup = w.setup(w.ruled.Now())
		return w.newest, nil
	}
	src, err := w.Look(ctx, cohort.NoDay)
	if err != nil {
		return notebooks.Facts{}, err
	}
	defer src.Close()
	w.seen, w.newest = src.seen, src.Facts()
	return w.newest, nil
}

// At opens the newest snapshot as it was known on a day.
func (w *Workshop) At(ctx context.Context, asOf cohort.Day) (notebooks.Source, error) {
	return w.Look(ctx, asOf)
}

// Look is At for those who ask more than notebooks do.
func (w *Workshop) Look(ctx context.Context, asOf cohort.Day) (*State, error) {
	if err := NeedBook(w.book); err != nil {
		return nil, err
	}
	r, seen, err := w.openSeen(ctx, asOf)
	if err != nil {
		return nil, err
	}
	newest, err := r.Load(ctx)
	if err != nil {
		return nil, errors.Join(err, r.Close())
	}
	shipped, err := r.ShippingMonths(ctx)
	if err != nil {
		return nil, errors.Join(err, r.Close())
	}
	first, last := cohort.NoDay, cohort.NoDay
	if asOf.Known() { // only a day that was asked for can lie outside
		if first, last, err = r.FirstAndNewest(ctx); err != nil {
			return nil, errors.Join(err, r.Close())
		}
	}
	now := w.ruled.Now()
	return &State{Reader: r, workshop: w, seen: seen, rules: now,
		facts: notebooks.Facts{AsOf: r.AsOf(), First: first, Newest: last, Hash: r.ContentHash(), Load: newest, Month: notebooks.MonthToTell(r.AsOf(), shipped), Setup: w.setup(now)}}, nil
}

// openSeen opens the newest snapshot and says which file that is. Opening may
// itself put a newer file in its place, and so may a load: then again.
func (w *Workshop) openSeen(ctx context.Context, asOf cohort.Day) (*orderbook.Reader, fs.FileInfo, error) {
	for {
		before, statErr := os.Stat(w.files().Snapshot())
		r, err := OpenReader(ctx, w.book, asOf)
		if err != nil {
			return nil, nil, err
		}
		after, err := os.Stat(w.files().Snapshot())
		if err == nil && statErr == nil && sameFile(before, after) {
			return r, after, nil
		}
		if err := errors.Join(err, ctx.Err(), r.Close()); err != nil {
			return nil, nil, err
		}
	}
}

func sameFile(a, b fs.FileInfo) bool { return os.SameFile(a, b) && a.ModTime().Equal(b.ModTime()) }

// OpenReader opens a book for reading as of a day.
func OpenReader(ctx context.Context, book string, asOf cohort.Day) (*orderbook.Reader, error) {
	if err := NeedBook(book); err != nil {
		return nil, err
	}
	if err := FinishForgetting(ctx, book, Silent); err != nil {
		return nil, err
	}
	return orderbook.OpenReader(ctx, book, orderbook.Options{AsOf: asOf, Program: Program()})
}

// FinishForgetting forgets a person whose forgetting was cut short; it is cheap
// where there is none. While another program has the book, that one does it.
func FinishForgetting(ctx context.Context, book string, p Progress) error {
	f := bookfile.FilesOf(book)
	switch _, err := os.Stat(f.Forgetting()); {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil: // nobody knows whether a person is to be forgotten
		return BadInput(err)
	}
	p("finishing to forget a person, which was cut short", 0, 0)
	_, err := upkeep.FinishForgetting(ctx, book, bookfile.WriterOptions{Program: Program(), Now: time.Now().UTC()})
	if errors.Is(err, bookfile.ErrBusy) {
		return nil
	}
	return BadInput(err)
}

// Today is the day by a clock, where the machine is.
func Today(clock notebooks.Clock) cohort.Day { return cohort.DayOf(clock()) }

// FinishKeying puts what was typed in at the desk, and is not in the book yet, into
// it; it is cheap where nothing waits. While another program has the book, that one
// or the next does it. What the desk keeps goes on waiting where the book does not
// take it, and the desk's page says why, so that no other command is held up.
func FinishKeying(ctx context.Context, book string, p Progress) error {
	s := keyed.Store{Files: bookfile.FilesOf(book)}
	if !s.Waits() {
		return nil
	}
	_, err := loading.Load(ctx, s, load.Options{Program: Program(), Now: time.Now().UTC(), Progress: p.Share()})
	if errors.Is(err, bookfile.ErrBusy) || errors.Is(err, keyed.ErrDamaged) {
		return nil
	}
	return BadInput(err)
}

// NoteCopy notes that something out of the book is written elsewhere, for the day
// when a person is forgotten. It is noted before it is written, so that one cut
// short is known too. Where there is no book yet nothing is noted.
func NoteCopy(book, what, path string) error {
	f := bookfile.FilesOf(book)
	if _, err := os.Stat(f.Dir); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return BadInput(bookfile.NoteCopy(f, what, path, time.Now()))
}
