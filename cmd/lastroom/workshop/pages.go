package workshop

import (
	"context"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service"
	"lastroom/reports/page"
)

// Pages answer what the service's pages ask of a workshop besides notebooks,
// and judge forms that are typed in: a service.Workshop and a service.Desk.
// They keep one desk for each state of the book.
type Pages struct {
	*Workshop

	mu   sync.RWMutex
	desk *Desk
	hash string // of the state of the book that desk belongs to
}

// Close gives the book back.
func (p *Pages) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.desk == nil {
		return nil
	}
	return p.desk.Close()
}

// with calls f with the desk for the book as it is now.
func (p *Pages) with(ctx context.Context, f func(*Desk) error) error {
	now, err := p.State(ctx)
	if err != nil {
		return err
	}
	p.mu.RLock()
	if p.desk == nil || p.hash != now.Hash {
		p.mu.RUnlock()
		if err := p.renew(ctx, now.Hash); err != nil {
			return err
		}
		p.mu.RLock()
	}
	defer p.mu.RUnlock()
	return f(p.desk)
}

// reading calls f with the desk's reader of the newest snapshot.
func (p *Pages) reading(ctx context.Context, f func(*orderbook.Reader) error) error {
	return p.with(ctx, func(d *Desk) error {
		if d.book == nil {
			return ErrNoBook
		}
		return f(d.book)
	})
}

// renew makes the desk anew for another state of the book.
func (p *Pages) renew(ctx context.Context, hash string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.desk != nil && p.hash == hash {
		return nil // somebody else did
	}
	var book *orderbook.Reader
	if p.Exists() {
		var err error
		if book, err = OpenReader(ctx, p.Workshop.book, cohort.NoDay); err != nil {
			return err
		}
	}
	d, err := newDesk(ctx, book, p.rules, FalseAlarms)
	if err != nil {
		return err
	}
	if p.desk != nil {
		err = p.desk.Close()
	}
	p.desk, p.hash = d, hash
	return err
}

// Rules are the ids of the shop's rules.
func (p *Pages) Rules() []string {
	var ids []string
	for _, r := range p.rules {
		ids = append(ids, r.ID)
	}
	return ids
}

// Views are the documented views of the book.
func (p *Pages) Views() (out []service.View) {
	for _, v := range orderbook.Views() {
		out = append(out, service.View{Name: v.Name, About: v.About})
	}
	return out
}

// Exercise picks an order for practice.
func (p *Pages) Exercise(ctx context.Context) (id string, d *page.Document, err error) {
	err = p.reading(ctx, func(r *orderbook.Reader) (err error) {
		id, d, err = exercise(ctx, r)
		return err
	})
	return id, d, err
}

// Orders lists orders, one a row.
func (p *Pages) Orders(ctx context.Context, ids []string) (t page.Table, err error) {
	err = p.reading(ctx, func(r *orderbook.Reader) (err error) {
		t, err = orderTable(ctx, r, ids)
		return err
	})
	return t, err
}

// Order shows one order.
func (p *Pages) Order(ctx context.Context, id string) (doc *page.Document, err error) {
	err = p.with(ctx, func(d *Desk) (err error) {
		if d.book == nil {
			return ErrNoBook
		}
		doc, err = orderPage(ctx, d, id)
		return err
	})
	return doc, err
}

// OrderOfForm is the order a form belongs to.
func (p *Pages) OrderOfForm(ctx context.Context, id string) (order string, err error) {
	err = p.reading(ctx, func(r *orderbook.Reader) error {
		f, ok, err := r.Form(ctx, id)
		if err == nil && !ok {
			err = service.ErrUnknown
		}
		order = f.Order
		return err
	})
	return order, err
}
