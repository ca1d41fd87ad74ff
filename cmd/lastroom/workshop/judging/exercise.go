package judging

import (
	"context"
	"math/rand/v2"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/orderbook"
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

// Exercise gives the first form of a mature order of the desk's book as it came in,
// every other one of an order that was remade; false where there is none.
func (d *Desk) Exercise(ctx context.Context) (orderbook.FirstForm, bool, error) {
	if d.book == nil {
		return orderbook.FirstForm{}, false, workshop.ErrNoBook
	}
	k := d.practice
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.cards) == 0 {
		var err error
		if k.cards, err = d.book.FirstForms(ctx, k.draw()); err != nil {
			return orderbook.FirstForm{}, false, err
		}
		rand.Shuffle(len(k.cards), func(i, j int) { k.cards[i], k.cards[j] = k.cards[j], k.cards[i] })
	}
	if len(k.cards) == 0 {
		return orderbook.FirstForm{}, false, nil
	}
	card := k.cards[0]
	k.cards = k.cards[1:]
	return card, true, nil
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
