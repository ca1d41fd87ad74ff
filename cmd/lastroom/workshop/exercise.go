package workshop

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/remakes"
	"lastroom/analysis/repeatability"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/analyses"
	"lastroom/notebooks/service"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// mature are the orders whose story is told, in two lists: kept, remade.
func mature(c *cohort.Cohort, m remakes.Maturity) (of [2][]string) {
	for i, id := range c.OrderID {
		if !m.Is(c, i) {
			continue
		}
		k := 0
		if remakes.Event(c, i) {
			k = 1
		}
		of[k] = append(of[k], id)
	}
	return of
}

// deckSize is how many exercises are read at once.
const deckSize = 50

// A deck is exercises that were drawn by chance and wait to be dealt, each once.
type deck struct {
	mu    sync.Mutex
	of    [2][]string // mature orders, kept and remade
	cards []orderbook.FirstForm
}

// deal gives the first form of a mature order as it came in, every other one of an
// order that was remade.
func (k *deck) deal(ctx context.Context, r *orderbook.Reader) (string, *page.Document, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.cards) == 0 {
		var err error
		if k.cards, err = r.FirstForms(ctx, k.draw()); err != nil {
			return "", nil, err
		}
		rand.Shuffle(len(k.cards), func(i, j int) { k.cards[i], k.cards[j] = k.cards[j], k.cards[i] })
	}
	if len(k.cards) == 0 {
		return "", nil, service.ErrNoExercise
	}
	card := k.cards[0]
	k.cards = k.cards[1:]
	return card.Form.Order, exercisePage(card), nil
}

// draw draws different orders by chance, from both lists as far as they go.
func (k *deck) draw() (ids []string) {
	var lists [2][]int
	for i := range lists {
		lists[i] = rand.Perm(len(k.of[i]))
	}
	for len(ids) < deckSize && len(lists[0])+len(lists[1]) > 0 {
		i := rand.IntN(2)
		if len(lists[i]) == 0 {
			i = 1 - i
		}
		ids = append(ids, k.of[i][lists[i][0]])
		lists[i] = lists[i][1:]
	}
	return ids
}

// exercisePage is the first form of an order and nothing that came later: no
// fault that the tool found, no outcome, no id.
func exercisePage(card orderbook.FirstForm) *page.Document {
	f := card.Form
	order := page.Table{ID: "boot", Caption: "The boot that was ordered", Columns: []page.Column{{Key: "what", Title: "what"}, {Key: "is", Title: "is"}}}
	for _, name := range [][2]string{{"shaft_written", "shaft height, as written"}, {"closure", "closure"}, {"worn_tucked", "trousers worn inside"}, {"sock", "sock"},
		{"orthotic", "orthotic"}, {"channel", "who measured"}, {"sex", "sex"}} {
		if v := card.Order.Get(name[0]); v != "" {
			order.Rows = append(order.Rows, []page.Cell{page.Text(name[1]), page.Text(plainWord(v))})
		}
	}
	order.Total = len(order.Rows)
	keyed := page.Table{ID: "tracing", Caption: "What was noted of the tracing and the tape", Columns: order.Columns}
	for k, fault := range form.Faults {
		if fault.Kind == form.Noted && f.Faults[k] != form.NotAtRisk {
			is := map[form.State]string{form.With: "yes", form.Without: "no", form.Unknown: "not noted"}[f.Faults[k]]
			keyed.Rows = append(keyed.Rows, []page.Cell{page.Text(fault.Title), page.Text(is)})
		}
	}
	if v := f.Facts.Get("irregularities"); v != "" {
		keyed.Rows = append(keyed.Rows, []page.Cell{page.Text("irregularities"), page.Text(v)})
	}
	keyed.Total = len(keyed.Rows)
	t := numberTable("numbers", card.Numbers, nil)
	t.Caption = "The numbers, as written and in mm"
	return &page.Document{Title: "The form", Sections: []page.Section{{Blocks: []page.Block{order, t, keyed}}}, Cautions: []string{review.LicensedCare}}
}

// Measurers compares those who measure, by the book as it is now.
func (p *Pages) Measurers(ctx context.Context) (measurers.Comparison, error) {
	return findingNow(ctx, p.Workshop, analyses.Findings.Measurers)
}

// Repeats is the study of measuring sessions, by the book as it is now.
func (p *Pages) Repeats(ctx context.Context) (repeatability.Study, error) {
	return findingNow(ctx, p.Workshop, analyses.Findings.Repeats)
}

func findingNow[T any](ctx context.Context, w *Workshop, find func(analyses.Findings, context.Context) (T, error)) (out T, err error) {
	f, err := w.Findings(ctx, Finding{AsOf: cohort.NoDay}, Silent)
	if err != nil {
		return out, err
	}
	out, err = find(f, ctx)
	return out, errors.Join(err, f.Source.Close())
}
