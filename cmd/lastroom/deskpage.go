package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"strings"
	"sync"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service"
	"lastroom/reports/letter"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// A formDesk is the form desk of the service: one checker for each state of
// the book, and a book in memory for each form that is typed in.
type formDesk struct {
	shop    *shop
	scratch string

	mu      sync.RWMutex
	checker *checker
	book    *orderbook.Reader
	hash    string
}

func newFormDesk(s *shop) (*formDesk, error) {
	dir, err := os.MkdirTemp("", "lastroom-desk-")
	return &formDesk{shop: s, scratch: dir}, err
}

func (d *formDesk) close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	err := os.RemoveAll(d.scratch)
	if d.book != nil {
		err = errors.Join(err, d.book.Close())
	}
	return err
}

// with calls f with the checker for the book as it is now.
func (d *formDesk) with(ctx context.Context, f func(*checker) error) error {
	now, err := d.shop.State(ctx)
	if err != nil {
		return err
	}
	d.mu.RLock()
	if d.checker == nil || d.hash != now.Hash {
		d.mu.RUnlock()
		if err := d.renew(ctx, now.Hash); err != nil {
			return err
		}
		d.mu.RLock()
	}
	defer d.mu.RUnlock()
	own := *d.checker // a load into the desk sets its settings
	return f(&own)
}

// renew makes the checker anew for another state of the book.
func (d *formDesk) renew(ctx context.Context, hash string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.checker != nil && d.hash == hash {
		return nil // somebody else did
	}
	var book *orderbook.Reader
	if d.shop.Exists() {
		var err error
		if book, err = openReader(ctx, d.shop.book, cohort.NoDay); err != nil {
			return err
		}
	}
	c, err := newChecker(ctx, book, d.shop.rules, falseAlarms)
	if err != nil {
		return err
	}
	if d.book != nil {
		err = d.book.Close()
	}
	d.checker, d.book, d.hash = c, book, hash
	return err
}

// falseAlarms is the share of good forms that may raise an alarm.
const falseAlarms = 0.01

// tallest is the height up to which the page has rows for leg girths.
const tallest = 18 * 25.4

// Heights are those of the shop's scheme.
func (d *formDesk) Heights(ctx context.Context) (out []form.Height, err error) {
	err = d.with(ctx, func(c *checker) error {
		out = form.SchemeOf(c.settings).Heights(tallest)
		return nil
	})
	return out, err
}

// Check judges a form that was typed in.
func (d *formDesk) Check(ctx context.Context, f service.DeskForm) (answer *service.DeskAnswer, err error) {
	err = d.with(ctx, func(c *checker) error {
		od := &openDesk{checker: c, scratch: d.scratch}
		defer func() { err = errors.Join(err, od.close()) }()
		good, wrong := readable(f)
		if err := od.readTyped(ctx, typedOf(good), cohort.NoDay); err != nil {
			return err
		}
		list, err := c.forms(ctx, od.forms, "")
		if err != nil {
			return err
		}
		if len(list) != 1 {
			return fmt.Errorf("the form was not read")
		}
		list[0].ID, list[0].decision.FormID = f.Name, f.Name
		answer = c.answer(f, list[0])
		for field, why := range wrong {
			answer.Doubts[field] = why
			answer.Verdict = "mend what can't be read"
		}
		return nil
	})
	return answer, err
}

// readable leaves out the numbers that are no lengths, and says so of each.
func readable(f service.DeskForm) (service.DeskForm, map[string]string) {
	wrong := map[string]string{}
	var good []service.DeskNumber
	for _, n := range f.Numbers {
		if _, err := lengths.Parse(n.Value, f.Unit, lengths.Options{DecimalComma: true}); err != nil {
			wrong[n.Field] = fmt.Sprintf("%q %v", n.Value, err)
			continue
		}
		good = append(good, n)
	}
	f.Numbers = good
	return f, wrong
}

// typedOf are the cells of the sheets that a form of the page fills.
func typedOf(f service.DeskForm) typedForm {
	t := typedForm{Order: maps.Clone(f.Order), Form: maps.Clone(f.Marks)}
	if f.Shaft != "" {
		t.Order["shaft_height_"+f.ShaftUnit.String()] = f.Shaft
	}
	today := cohort.DayOf(time.Now()).String()
	t.Order["received_on"], t.Form["received_on"], t.Form["irregularities"] = today, today, f.Irregularities
	for _, n := range f.Numbers {
		t.Numbers = append(t.Numbers, typedNumber{n.Place, n.Value, f.Unit})
	}
	return t
}

func (c *checker) answer(f service.DeskForm, got checkedForm) *service.DeskAnswer {
	a := &service.DeskAnswer{Verdict: string(got.decision.Verdict), Doc: c.explain(got), Doubts: map[string]string{}}
	if l, ok := c.letter(letter.English(), got); ok {
		a.Letter = l.Document()
	}
	for _, n := range f.Numbers {
		for _, x := range got.decision.Doubts {
			if n.Place == x.Place && a.Doubts[n.Field] == "" { // the first is the likeliest
				a.Doubts[n.Field] = doubtWords(x, f.Unit)
			}
		}
	}
	return a
}

// doubtWords say a doubt beside its number.
func doubtWords(x desk.Doubt, unit form.Unit) string {
	words := "look again: " + x.Words
	if x.ExpectedMM != nil && x.LowMM != nil && x.HighMM != nil {
		words = fmt.Sprintf("look again: by the others %s (%s to %s)", unit.Text(*x.ExpectedMM), unit.Text(*x.LowMM), unit.Text(*x.HighMM))
		if x.Words != "" {
			words += "; " + x.Words
		}
	}
	return strings.TrimSpace(words)
}

// figures are the drawings of a form in the book: its numbers on the human
// range, and its leg profile. The rules and the customer's other orders are
// left out: they would be looked up over the whole book, and no drawing shows
// them.
func (c *checker) figures(ctx context.Context, id string) ([]page.Block, error) {
	own := *c
	own.rules, own.book = nil, nil
	list, err := own.forms(ctx, c.book, "form_id = ?", id)
	if err != nil || len(list) != 1 || len(list[0].Numbers) == 0 {
		return nil, err
	}
	x := own.explained(list[0])
	out := []page.Block{renamed(review.FormFigure(x), id)}
	if leg := review.LegFigure(x); leg != nil {
		out = append(out, renamed(*leg, id))
	}
	return out, nil
}

// renamed gives a figure an id of its own on a page with several forms.
func renamed(f page.Figure, form string) page.Figure {
	f.ID += "-" + service.FormAnchor(form)
	if f.Data.ID != "" {
		f.Data.ID += "-" + service.FormAnchor(form)
	}
	return f
}
