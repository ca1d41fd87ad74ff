package demo

import (
	"iter"
	"math/rand/v2"
	"time"

	"lastroom/analysis/cohort"
)

// busy is how a month compares with the average: most people think of boots
// when the weather turns.
var busy = [12]float64{0.9, 0.8, 0.85, 0.95, 0.9, 0.8, 0.75, 0.9, 1.25, 1.45, 1.35, 1.1}

// calendar deals n orders out over the working days from firstDay to AsOf. The
// last day always has one.
func calendar(n int) iter.Seq2[cohort.Day, int] {
	return func(yield func(cohort.Day, int) bool) {
		total := 0.0
		for d := firstDay; d <= AsOf; d++ {
			total += pace(d)
		}
		sum, dealt := 0.0, 0
		for d := firstDay; d <= AsOf; d++ {
			sum += pace(d)
			upTo := int(sum / total * float64(n))
			if d == AsOf {
				upTo = n
			} else if upTo >= n {
				upTo = n - 1
			}
			if k := upTo - dealt; k > 0 && !yield(d, k) {
				return
			}
			dealt = max(dealt, upTo)
		}
	}
}

// pace is the relative number of orders on a day: none at the week-end, by
// season, and a little more each year.
func pace(d cohort.Day) float64 {
	t := d.Time()
	if wd := t.Weekday(); wd == time.Saturday || wd == time.Sunday {
		return 0
	}
	years := float64(d-firstDay) / 365.25
	return busy[t.Month()-1] * (1 + 0.08*years)
}

// workday is d, or the Monday after a week-end.
func workday(d cohort.Day) cohort.Day {
	switch d.Time().Weekday() {
	case time.Saturday:
		return d + 2
	case time.Sunday:
		return d + 1
	}
	return d
}

// A customer orders once or comes back.
type customer struct {
	no      int
	earlier string // order id of the previous order
}

// returning holds the customers expected back, by day.
type returning struct {
	due  [1200][]customer
	open []customer // due already
	seen cohort.Day
}

// comesBack is the share of orders after which the customer orders again.
const comesBack = 0.42

// add may put the customer of an order down for another.
func (q *returning) add(r *rand.Rand, d cohort.Day, c customer, orderID string) {
	wait := 150 + int(r.ExpFloat64()*260)
	if r.Float64() > comesBack {
		return
	}
	if at := int(d-firstDay) + wait; at < len(q.due) {
		q.due[at] = append(q.due[at], customer{c.no, orderID})
	}
}

// take gives a customer due by day d, or none.
func (q *returning) take(d cohort.Day) (customer, bool) {
	for ; q.seen <= d-firstDay; q.seen++ {
		q.open = append(q.open, q.due[q.seen]...)
		q.due[q.seen] = nil
	}
	if len(q.open) == 0 {
		return customer{}, false
	}
	c := q.open[0]
	q.open = q.open[1:]
	return c, true
}

// customer is who orders next: three in ten come back, where anyone is due.
func (w *workshop) customer(r *rand.Rand, d cohort.Day) customer {
	if r.Float64() < 0.3 {
		if c, ok := w.coming.take(d); ok {
			return c
		}
	}
	w.people++
	return customer{no: w.people}
}
