// Package demo invents a workshop: its customers, their feet and legs, the
// forms they sent, what the shop did with them and what came back. Nothing in
// it is taken from a real shop or person; whoever made the sheets knows the
// truth behind them (Truth), so tests can ask whether a method finds it.
//
// Three years of orders end on the day AsOf. The steps of one order:
//
//  1. A customer, new or coming back, orders boots of some height (order).
//  2. Somebody measures: a helper at home, a dealer, a fitter in the shop. The
//     form carries faults by chance; careless forms carry several (form).
//  3. The shop may call back. From the day ruleFrom it does so by rule.
//  4. Boots are cut, shipped, and later kept, adjusted, returned or remade
//     (outcome). The chance of a remake is logistic in the faults of the form
//     cut from (Effects) and in what else the order is.
//  5. What has happened by the day of the extract is written as order sheets.
//
// Foot and leg numbers are drawn from published figures of human bodies; see
// body.go for the source.
package demo

import (
	"fmt"
	"math/rand/v2"
	"os"

	"lastroom/analysis/cohort"
)

// Days of the invented workshop.
var (
	firstDay = day("2023-11-01") // first orders
	ruleFrom = day("2025-05-01") // call-backs by rule from here on
	AsOf     = day("2026-10-30") // last orders, and the usual day of the extract
)

// Options say which workshop to invent. The same options give the same bytes.
type Options struct {
	Seed   uint64
	Orders int // new orders received from firstDay to AsOf; 0: 1500
	// AsOf is the day of the extract; 0: the day AsOf. A later day shows the
	// same orders with more of their outcomes.
	AsOf cohort.Day
}

func (o Options) withDefaults() (Options, error) {
	if o.Orders == 0 {
		o.Orders = 1500
	}
	if o.AsOf == 0 {
		o.AsOf = AsOf
	}
	if o.Orders < 0 {
		return o, fmt.Errorf("an invented workshop needs at least one order, not %d", o.Orders)
	}
	return o, nil
}

// Write invents a workshop and writes its order sheets as CSV files into dir,
// which is made if it isn't there. Orders stream: memory does not grow with
// their number beyond the customers expected back.
func Write(dir string, o Options) (Truth, error) {
	o, err := o.withDefaults()
	if err != nil {
		return Truth{}, err
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return Truth{}, err
	}
	s, err := createSheets(dir)
	if err != nil {
		return Truth{}, err
	}
	w := &workshop{Options: o, sheets: s, truth: newTruth(), staff: newStaff(o)}
	w.run()
	return w.truth.summed(), s.close()
}

// A workshop is the state of one invention.
type workshop struct {
	Options
	sheets *sheets
	truth  Truth
	staff  *staff
	coming returning
	people int // customers so far
}

func (w *workshop) run() {
	w.staff.write(w.sheets)
	writeCosts(w.sheets)
	w.writeRepeats()
	no := 0
	for d, n := range calendar(w.Orders) {
		for range n {
			no++
			w.order(no, d)
		}
	}
}

// order invents order number no, received on day d, and writes it.
func (w *workshop) order(no int, d cohort.Day) {
	r := w.random(streamOrder, no)
	c := w.customer(r, d)
	o := w.newOrder(r, no, d, c)
	w.measure(r, o)
	w.make(r, o)
	w.live(r, o)
	w.truth.add(o, w.AsOf)
	w.writeOrder(o)
	w.rebook(r, o)
	w.coming.add(r, d, c, o.id)
}

// Streams of random numbers, so that one order's draws don't move another's.
const (
	streamOrder = iota + 1
	streamPerson
	streamStaff
	streamRepeats
)

// random is the source for item no of a stream.
func (w *workshop) random(stream, no int) *rand.Rand { return random(w.Seed, stream, no) }

func random(seed uint64, stream, no int) *rand.Rand {
	return rand.New(rand.NewPCG(mix(seed+uint64(stream)), mix(uint64(no))))
}

// mix scatters neighbouring numbers over all 64 bits (the finaliser of
// Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators").
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

func day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err) // only on a constant of this package
	}
	return d
}
