// Package serving answers what the service's pages ask of a workshop besides notebooks:
// the shop as its book tells it now, orders, exercises, rules tried, sheets sent in. [Pages] keep
// one desk for each state of the book (pages.go); what needs no desk stands in asked.go,
// what is sent in in uploads.go.
package serving

import (
	"cmp"
	"context"
	"errors"
	"runtime"
	"sync"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/nearest"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/cmd/lastroom/workshop/orderpages"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks"
	"lastroom/notebooks/service"
	"lastroom/notebooks/service/finding"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// Pages answer what the service's pages ask of a workshop besides notebooks,
// and have the desk that judges forms: a service.Workshop.
// They keep one desk for each state of the book.
type Pages struct {
	*workshop.Workshop

	asked    answers
	renewing sync.Mutex // held while a desk is made
	mu       sync.Mutex
	desk     *openDesk
}

// An openDesk is a desk with those who use it.
type openDesk struct {
	*judging.Desk
	of    string // the state of the book, and the rules, that it belongs to
	used  sync.RWMutex
	turns chan struct{} // of those who read the book, as many at once as there are processors
	shop  *brief.Shop   // what the first page shows; nil without a book
}

// end closes a desk that nobody can come to any more, once those who are there
// have gone.
func (d *openDesk) end() error {
	d.used.Lock()
	defer d.used.Unlock()
	return d.Close()
}

// Close gives the book back.
func (p *Pages) Close() error {
	p.renewing.Lock()
	defer p.renewing.Unlock()
	p.mu.Lock()
	old := p.desk
	p.desk = nil
	p.mu.Unlock()
	if old == nil {
		return nil
	}
	return old.end()
}

// newest gives the desk there is, with the user counted in.
func (p *Pages) newest() *openDesk {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.desk != nil {
		p.desk.used.RLock()
	}
	return p.desk
}

// deskOf names what a desk is made from.
func deskOf(f notebooks.Facts) string { return f.Hash + " " + f.Setup }

// with calls f with the desk for the book as it is now. The first to come after a
// load makes that desk; the others have the one for the book as it was meanwhile.
func (p *Pages) with(ctx context.Context, f func(*openDesk) error) error {
	now, err := p.State(ctx)
	if err != nil {
		return err
	}
	d := p.newest()
	if d != nil && d.of != deskOf(now) && p.renewing.TryLock() {
		d.used.RUnlock()
		err = p.renew(ctx)
		d = p.newest()
	} else if d == nil {
		err = p.Ready(ctx)
		d = p.newest()
	}
	if d == nil { // closed meanwhile
		return cmp.Or(err, workshop.ErrNoBook)
	}
	defer d.used.RUnlock()
	if err != nil {
		return err
	}
	return f(d)
}

// WithDesk calls f with the desk for the book as it is now; of names that state.
func (p *Pages) WithDesk(ctx context.Context, f func(d *judging.Desk, of string) error) error {
	return p.with(ctx, func(d *openDesk) error { return f(d.Desk, d.of) })
}

// reading calls f with a desk that has a book, in turn: a page that asks several
// questions asks them one after another, and not in turn with all other pages.
func (p *Pages) reading(ctx context.Context, f func(*judging.Desk) error) error {
	return p.with(ctx, func(d *openDesk) error {
		if d.Book() == nil {
			return workshop.ErrNoBook
		}
		select {
		case d.turns <- struct{}{}:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
		defer func() { <-d.turns }()
		return f(d.Desk)
	})
}

// Ready makes the desk for the newest state of the book, so that nobody waits for
// it later.
func (p *Pages) Ready(ctx context.Context) error {
	p.renewing.Lock()
	return p.renew(ctx)
}

// renew is Ready with renewing held, which it gives back whatever becomes of it.
func (p *Pages) renew(ctx context.Context) error {
	defer p.renewing.Unlock()
	now, err := p.State(ctx)
	if err != nil {
		return err
	}
	p.mu.Lock()
	old := p.desk
	p.mu.Unlock()
	if old != nil && old.of == deskOf(now) {
		return nil // somebody else did
	}
	var book *workshop.State
	if p.Exists() {
		if book, err = p.Look(ctx, cohort.NoDay); err != nil {
			return err
		}
	}
	var before *judging.Desk
	if old != nil {
		before = old.Desk
	}
	d, err := judging.New(ctx, book, p.RuleList(), body.DefaultFalseAlarms, before)
	if err != nil {
		return err
	}
	var shop *brief.Shop
	if book != nil {
		if err = d.Foresee(ctx, book, 0); err == nil {
			err = d.FindWaiting(ctx)
		}
		if err == nil {
			of := p.FindingsOf(book, workshop.Finding{AsOf: cohort.NoDay}, workshop.Silent)
			shop, err = of.Now(ctx)
		}
		if err != nil {
			return errors.Join(err, d.Close())
		}
	}
	p.mu.Lock()
	p.desk = &openDesk{Desk: d, of: deskOf(now), turns: make(chan struct{}, runtime.GOMAXPROCS(0)), shop: shop}
	p.mu.Unlock()
	if old != nil {
		return old.end()
	}
	return nil
}

// Now is the shop as the book tells it.
func (p *Pages) Now(ctx context.Context) (s *brief.Shop, err error) {
	err = p.with(ctx, func(d *openDesk) error {
		s = d.shop
		return nil
	})
	if err == nil && s == nil {
		err = workshop.ErrNoBook
	}
	return s, err
}

// Views are the documented views of the book.
func (p *Pages) Views() (out []service.View) {
	for _, v := range orderbook.Views() {
		view := service.View{Name: v.Name, About: v.About}
		for _, c := range v.Columns {
			view.Columns = append(view.Columns, service.Column(c))
		}
		out = append(out, view)
	}
	return out
}

// Exercise picks an order for practice.
func (p *Pages) Exercise(ctx context.Context) (id string, doc *page.Document, err error) {
	err = p.with(ctx, func(d *openDesk) error {
		card, found, err := d.Exercise(ctx)
		if err == nil && !found {
			err = service.ErrNoExercise
		}
		if err == nil {
			id, doc = card.Form.Order, orderpages.Exercise(card)
		}
		return err
	})
	return id, doc, err
}

// Orders lists orders, one a row.
func (p *Pages) Orders(ctx context.Context, ids []string) (t page.Table, hash string, err error) {
	err = p.reading(ctx, func(d *judging.Desk) (err error) {
		hash = d.Book().ContentHash()
		t, err = orderpages.Table(ctx, d.Book(), ids)
		return err
	})
	return t, hash, err
}

// Forms lists forms, one a row.
func (p *Pages) Forms(ctx context.Context, ids []string) (t page.Table, hash string, err error) {
	err = p.reading(ctx, func(d *judging.Desk) (err error) {
		hash = d.Book().ContentHash()
		t, err = orderpages.Forms(ctx, d.Book(), ids)
		return err
	})
	return t, hash, err
}

// Order shows one order.
func (p *Pages) Order(ctx context.Context, id string) (doc *page.Document, err error) {
	err = p.reading(ctx, func(d *judging.Desk) (err error) {
		doc, err = orderpages.Order(ctx, d, id)
		return err
	})
	return doc, err
}

// Find says what a number means, as a person remembers it.
func (p *Pages) Find(ctx context.Context, text string) (found finding.Found, err error) {
	err = p.reading(ctx, func(d *judging.Desk) error {
		ids, err := d.Book().FindIDs(ctx, text)
		if err != nil {
			return err
		}
		if len(ids) > 0 {
			found.Matches, err = matches(ctx, d.Book(), ids)
			return err
		}
		const about, most = 2, 6
		all, err := d.Book().IDsOfLength(ctx, len([]rune(text)), about)
		if err != nil {
			return err
		}
		names, kinds := make([]string, len(all)), map[string]string{}
		for i, n := range all {
			names[i], kinds[n.ID] = n.ID, n.Kind
		}
		for _, n := range nearest.Names(text, names, most) {
			ids = append(ids, orderbook.Named{Kind: kinds[n], ID: n})
		}
		found.Near, err = matches(ctx, d.Book(), ids)
		return err
	})
	if errors.Is(err, workshop.ErrNoBook) { // what is kept at the desk may be found all the same
		err = nil
	}
	return found, err
}

// matches are ids for people, orders with a few words of theirs.
func matches(ctx context.Context, r *orderbook.Reader, ids []orderbook.Named) ([]finding.Match, error) {
	var orders []string
	for _, n := range ids {
		if n.Kind == finding.Order {
			orders = append(orders, n.ID)
		}
	}
	lines, err := r.OrderLines(ctx, orders)
	if err != nil {
		return nil, err
	}
	words := map[string]string{}
	for _, l := range lines {
		words[l.ID] = "not shipped yet"
		if l.Shipped.Known() {
			words[l.ID] = "shipped " + l.Shipped.String()
		}
		if l.Shaft != "" {
			words[l.ID] = "shaft " + l.Shaft + ", " + words[l.ID]
		}
	}
	out := make([]finding.Match, len(ids))
	for i, n := range ids {
		out[i] = finding.Match{Kind: n.Kind, ID: n.ID}
		if n.Kind == finding.Order {
			out[i].Words = words[n.ID]
		}
	}
	return out, nil
}

// OrdersOf lists the orders of a customer.
func (p *Pages) OrdersOf(ctx context.Context, customer string) (t page.Table, err error) {
	err = p.reading(ctx, func(d *judging.Desk) error {
		ids, err := d.Book().OrdersOf(ctx, customer)
		if err == nil {
			t, err = orderpages.Table(ctx, d.Book(), ids)
		}
		return err
	})
	return t, err
}

// OrderOfForm is the order a form belongs to.
func (p *Pages) OrderOfForm(ctx context.Context, id string) (order string, err error) {
	err = p.reading(ctx, func(d *judging.Desk) error {
		var found bool
		if order, found, err = d.Book().OrderOfForm(ctx, id); err == nil && !found {
			err = service.ErrUnknown
		}
		return err
	})
	return order, err
}
