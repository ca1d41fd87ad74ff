// Package keeping is the form desk of the pages: it judges what is typed in, by the
// workshop's desk, keeps it beside the book, and sees that it comes into the book.
//
//  1. typedOf and formOf turn the page's form into cells of the order sheets and back
//  2. [Desk.Check] judges, [Desk.Keep] keeps (package keyed) and says how it is judged
//  3. [Desk.Run] loads what waits (package loading), so that nobody waits for it
//
// How often loads are made follows from how long they take: a book of a hundred
// thousand orders takes seconds to copy, so forms are gathered meanwhile.
package keeping

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/cmd/lastroom/workshop/serving"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/keyed"
	"lastroom/ingest/keyed/loading"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks"
	"lastroom/notebooks/service/formdesk"
	"lastroom/reports/letter"
	"lastroom/reports/page"
)

// A Desk is the form desk of a workshop's pages: a formdesk.Desk. It may be used by
// several goroutines.
type Desk struct {
	pages *serving.Pages
	store keyed.Store
	clock notebooks.Clock
	wake  chan struct{} // something waits to be loaded

	mu    sync.Mutex
	seen  map[string]lookup // what was looked up in the book, by order and customer
	state string            // of the book, that it was looked up in
	// Numbers of orders and forms kept since the start: one that is loaded and closed is
	// in no list for a while, since the pages have the book as it was.
	numbers map[string]bool
}

// New makes the desk of a workshop whose book is at a path.
func New(pages *serving.Pages, book string, clock notebooks.Clock) *Desk {
	return &Desk{pages: pages, store: keyed.Store{Files: bookfile.FilesOf(book)}, clock: clock, wake: make(chan struct{}, 1), numbers: map[string]bool{}}
}

// shortest and longest are how long forms are gathered before a load. Between them
// share times what the last load took goes by after it. Judgement: loads take at most a tenth of
// the machine.
const (
	shortest = 2 * time.Second
	longest  = 10 * time.Minute
	share    = 10
)

// Run loads what was kept, whenever something waits, and closes what sheets say is cut,
// until ctx is done. failed is told
// of a load that could not be made; it is tried again.
func (d *Desk) Run(ctx context.Context, failed func(error)) {
	var notBefore time.Time // of the next load
	d.wakeUp()              // for what an earlier run left
	for {
		select {
		case <-ctx.Done():
			return
		case <-d.wake:
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(max(shortest, time.Until(notBefore))):
		}
		began := time.Now()
		report, err := loading.Load(ctx, d.store, load.Options{Program: workshop.Program(), Now: d.clock().UTC()})
		if err == nil && report != nil && report.Load > 0 {
			err = d.pages.Ready(ctx)
		}
		if report != nil {
			notBefore = time.Now().Add(min(share*time.Since(began), longest))
		}
		if err == nil {
			err = d.settle(ctx)
		}
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			failed(err)
			d.wakeUp()
		}
	}
}

func (d *Desk) wakeUp() {
	select {
	case d.wake <- struct{}{}:
	default:
	}
}

// Next proposes the numbers of the next order and its form: those after the newest
// of the book and of the desk. A form is numbered after its order where the newest
// one is.
func (d *Desk) Next(ctx context.Context) (n formdesk.Next, err error) {
	var newest orderbook.Newest
	err = d.pages.WithDesk(ctx, func(w *judging.Desk, _ string) error {
		newest = w.Newest()
		return nil
	})
	if err != nil {
		return n, err
	}
	n.Unit, _ = form.ParseUnit(newest.Unit)
	list, err := d.store.Open()
	if err != nil && !errors.Is(err, keyed.ErrDamaged) {
		return n, err
	}
	byOrder := newest.Form == "" || strings.HasPrefix(newest.Form, newest.FormOrder+"-")
	d.mu.Lock()
	taken := maps.Clone(d.numbers)
	d.mu.Unlock()
	for _, r := range list {
		taken[r.OrderID] = true
		for _, f := range r.Forms {
			taken[f.ID] = true
		}
	}
	next := func(last string) string {
		for n := 0; last != "" && n < 10_000; n++ {
			if last = formdesk.Following(last); !taken[last] {
				return last
			}
		}
		return ""
	}
	n.Order = next(newest.Order)
	switch {
	case byOrder && n.Order != "":
		n.Form = n.Order + "-1"
	case !byOrder:
		n.Form = next(newest.Form)
	}
	return n, nil
}

// Open lists the orders that the desk is not done with, the longest waiting first.
func (d *Desk) Open(ctx context.Context) ([]*formdesk.Kept, error) {
	list, err := d.store.Open()
	if err != nil && len(list) == 0 {
		return nil, err
	}
	cut, err := d.cutInBook(ctx, list)
	if err != nil {
		return nil, err
	}
	var out []*formdesk.Kept
	for _, r := range list {
		if _, is := cut[r.OrderID]; !is || len(r.Waiting) > 0 {
			out = append(out, d.kept(r))
		}
	}
	slices.SortStableFunc(out, func(a, b *formdesk.Kept) int { return b.Days - a.Days })
	return out, nil
}

// Waiting are the held forms that came on sheets, of orders that the desk never kept a
// form of.
func (d *Desk) Waiting(ctx context.Context) (out []formdesk.Waiting, err error) {
	err = d.pages.WithDesk(ctx, func(w *judging.Desk, _ string) error {
		for _, f := range w.Waiting() {
			if _, err := d.store.Get(f.Order); !errors.Is(err, keyed.ErrNone) {
				if err != nil && !errors.Is(err, keyed.ErrDamaged) {
					return err
				}
				continue
			}
			line := formdesk.Waiting{Order: f.Order, Customer: f.Customer, Form: f.ID, Verdict: string(f.Decision.Verdict),
				Days: max(0, int(workshop.Today(d.clock)-f.Received)), Called: f.Asked}
			if ask, held := w.Asks(f.Judged); held {
				line.Asks = letter.InShort(letter.English(), ask)
			}
			if f.AskedOn.Known() {
				line.CalledOn = f.AskedOn.String()
			}
			out = append(out, line)
		}
		return nil
	})
	return out, err
}

// settle closes what is cut or shipped by the sheets.
func (d *Desk) settle(ctx context.Context) error {
	list, err := d.store.Open()
	if err != nil && len(list) == 0 {
		return err
	}
	cut, err := d.cutInBook(ctx, list)
	for _, r := range list {
		if day, is := cut[r.OrderID]; is && r.Closed == keyed.Open && len(r.Waiting) == 0 {
			_, failed := d.store.Change(r.OrderID, r.Version, func(r *keyed.Record) error {
				r.Closed, r.ClosedOn = keyed.Cut, day
				return nil
			})
			if !errors.Is(failed, keyed.ErrChanged) {
				err = errors.Join(err, failed)
			}
		}
	}
	return err
}

// Kept gives what is kept of an order.
func (d *Desk) Kept(ctx context.Context, order string) (*formdesk.Kept, error) {
	r, err := d.store.Get(order)
	if errors.Is(err, keyed.ErrNone) {
		return nil, formdesk.ErrNone
	}
	if err != nil {
		return nil, err
	}
	k := d.kept(r)
	// After a load the pages have the book as it was for a while.
	err = d.pages.WithDesk(ctx, func(w *judging.Desk, _ string) error {
		if w.Book() == nil {
			k.Waits = true
			return nil
		}
		_, there, err := w.Book().OrderOfForm(ctx, k.Last().ID)
		k.Waits = k.Waits || !there
		return err
	})
	return k, err
}

// Keep keeps a form.
func (d *Desk) Keep(ctx context.Context, f formdesk.Form, by string, seen int) (*formdesk.Kept, error) {
	wrong := unreadable(f)
	for name, id := range map[string]string{formdesk.FieldOrder: f.OrderID, formdesk.FieldForm: f.ID} {
		if id == "" {
			wrong[name] = "needed, to be kept; as your shop numbers it"
		}
	}
	if len(wrong) > 0 {
		return nil, wrong
	}
	var of record
	err := d.pages.WithDesk(ctx, func(w *judging.Desk, hash string) error {
		found, err := d.look(ctx, w, hash, f)
		if err != nil {
			return err
		}
		if found.form != "" {
			return formdesk.Wrong{formdesk.FieldForm: "the book has a form of this number already, of order " + found.form + "; give this one another"}
		}
		if of.judged, err = w.JudgeTyped(ctx, typedOf(found.fill(f))); err != nil {
			return err
		}
		of.judged.ID, of.judged.Decision.FormID = f.ID, f.ID
		of.asks, of.held = w.Asks(of.judged)
		of.found = found
		return nil
	})
	if err != nil {
		return nil, err
	}
	r, err := d.store.Change(f.OrderID, seen, func(r *keyed.Record) error { return of.put(r, f, by, d.clock().UTC()) })
	if err == nil {
		d.mu.Lock()
		d.numbers[f.OrderID], d.numbers[f.ID] = true, true
		d.mu.Unlock()
	}
	return d.changed(r, err)
}

// Do notes what was done about an order.
func (d *Desk) Do(_ context.Context, order, what, by string, seen int) (*formdesk.Kept, error) {
	today := workshop.Today(d.clock)
	r, err := d.store.Change(order, seen, func(r *keyed.Record) error {
		last := r.Last()
		if last == nil {
			return formdesk.ErrNone
		}
		switch what {
		case formdesk.ByLetter, formdesk.ByTelephone:
			if last.Said.Held {
				r.Ask(last, keyed.Call{FormID: last.ID, On: today, By: by, How: what})
			}
		case formdesk.IsCut:
			r.Close(keyed.Cut, today, last.ID)
		case formdesk.IsWithdrawn:
			r.Close(keyed.Withdrawn, today, "")
		}
		return nil
	})
	return d.changed(r, err)
}

// changed is what a change of a record gives to the pages.
func (d *Desk) changed(r *keyed.Record, err error) (*formdesk.Kept, error) {
	switch {
	case errors.Is(err, keyed.ErrChanged) && r.Last() == nil: // it was forgotten meanwhile
		return nil, formdesk.ErrNone
	case errors.Is(err, keyed.ErrChanged):
		return d.kept(r), formdesk.ErrChanged
	case errors.Is(err, keyed.ErrTaken):
		return nil, formdesk.Wrong{formdesk.FieldForm: err.Error()}
	case err != nil:
		return nil, err
	}
	d.wakeUp()
	return d.kept(r), nil
}

// Letter is the letter about the last form of an order, as it was when it was kept, in a
// language.
func (d *Desk) Letter(_ context.Context, order, language string) (*page.Document, error) {
	r, err := d.store.Get(order)
	if errors.Is(err, keyed.ErrNone) {
		return nil, formdesk.ErrNone
	}
	if err != nil || !r.Last().Said.Held {
		return nil, err
	}
	ask, err := askOf(r.Last())
	if err != nil {
		return nil, err
	}
	return letterOf(ask, language), nil
}
