package orderbook

import (
	"database/sql/driver"
	"errors"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
)

// A cohortBuilder unpacks the rows of sql/cohort.sql into columns with room for
// all of them. Its parts, one a partition, fill their own rows, side by side.
type cohortBuilder struct {
	c       *cohort.Cohort
	applied []rules.Applied
	who     []uint64 // hash of the customer; c.Customer is -1 where not known
	parts   []*cohortPart
}

// A cohortPart is the rows of one partition: the first, the room, the rows so far.
type cohortPart struct {
	*cohortBuilder
	first, room, n      int
	order, form, remake *wordCodes
}

func newCohortBuilder(asOf cohort.Day, parts []partition, list []rules.Rule) *cohortBuilder {
	b := &cohortBuilder{}
	room := 0
	for _, s := range parts {
		room += s.orders
		b.parts = append(b.parts, &cohortPart{b, s.first, s.orders, 0, newWordCodes(4, s.orders), newWordCodes(3, s.orders), newWordCodes(4, s.orders)})
	}
	days := func() []cohort.Day { return make([]cohort.Day, room) }
	b.c = &cohort.Cohort{
		AsOf: asOf, OrderID: make([]string, room), Customer: make([]int32, room),
		Received: days(), Shipped: days(), Remade: days(), Returned: days(), Adjusted: days(),
		ShaftMM: make([]float64, room), Cost: make([]float64, room), CutAlarm: make([]float64, room), FirstAlarm: make([]float64, room),
		CutNo: make([]int16, room), CalledBack: make([]bool, room), Answered: make([]bool, room), NoDayTold: make([]bool, room),
		Tucked: cohort.Factor{Code: make([]int32, room)}, Orthotic: cohort.Factor{Code: make([]int32, room)},
	}
	for range form.Faults {
		b.c.Cut = append(b.c.Cut, make([]form.State, room))
		b.c.First = append(b.c.First, make([]form.State, room))
	}
	b.who = make([]uint64, room)
	b.applied = make([]rules.Applied, len(list))
	for i, rule := range list {
		b.applied[i] = rules.Applied{Rule: rule, Held: make([]form.State, room)}
	}
	return b
}

// The columns of sql/cohort.sql, in its order; what each rule says stands behind them.
const (
	columnOrder = iota
	columnWho
	columnCutStates
	columnFirstStates
	columnDays
	columnMore
	columnShaft
	columnCost
	columnAlarms
	columnOrderWords
	columnFormWords
	columnRemakeWords
	columnHeld
)

func (p *cohortPart) add(v []driver.Value) error {
	if p.n == p.room {
		return errors.New("the book has more orders than it said")
	}
	c, i := p.c, p.first+p.n
	p.n++
	c.OrderID[i] = v[columnOrder].(string)
	who, known := v[columnWho].(uint64)
	p.who[i] = who
	if !known {
		c.Customer[i] = -1
	}
	cut, first := uint64(v[columnCutStates].(int64)), uint64(v[columnFirstStates].(int64))
	for k := range form.Faults {
		c.Cut[k][i] = form.State(cut >> (2 * k) & 3)
		c.First[k][i] = form.State(first >> (2 * k) & 3)
	}
	days := uint64(v[columnDays].(int64))
	c.Shipped[i], c.Received[i], c.Remade[i] = packedDay(days), packedDay(days>>20), packedDay(days>>40)
	more := uint64(v[columnMore].(int64))
	c.Returned[i], c.Adjusted[i], c.CutNo[i] = packedDay(more), packedDay(more>>20), int16(more>>40&0x7fff)
	c.CalledBack[i], c.Answered[i] = more>>55&1 == 1, more>>56&1 == 1
	c.Tucked.Code[i], c.Orthotic.Code[i], c.NoDayTold[i] = int32(more>>57&3), int32(more>>59&3), more>>61&1 == 1
	c.ShaftMM[i], c.Cost[i] = v[columnShaft].(float64), v[columnCost].(float64)
	alarms := v[columnAlarms].(int64)
	c.CutAlarm[i], c.FirstAlarm[i] = packedAlarm(alarms), packedAlarm(alarms>>16)
	p.order.add(v[columnOrderWords].(string))
	p.form.add(v[columnFormWords].(string))
	p.remake.add(v[columnRemakeWords].(string))
	p.held(i, v[columnHeld:])
	return nil
}

// held unpacks what the rules say of the first form.
func (p *cohortPart) held(i int, words []driver.Value) {
	for k := range p.applied {
		state := form.NotAtRisk // no first form
		if word, ok := words[k/rulesAWord].(int64); ok {
			state = form.State(word >> (2 * (k % rulesAWord)) & 3)
		}
		p.applied[k].Held[i] = state
	}
}

// packedAlarm is an alarm score in hundredths, plus one.
func packedAlarm(bits int64) float64 {
	if bits &= 0xffff; bits > 0 {
		return float64(bits-1) / 100
	}
	return math.NaN()
}

const dayZero = 1 << 19

func packedDay(bits uint64) cohort.Day {
	d := int32(bits & 0xfffff)
	if d == 0 {
		return cohort.NoDay
	}
	return cohort.Day(d - dayZero)
}

// cohort closes the gaps that orders in doubt leave, and codes customers and
// words.
func (b *cohortBuilder) cohort() *cohort.Cohort {
	c := b.c
	c.Tucked.Levels, c.Orthotic.Levels = []string{"", "no", "yes"}, []string{"", "no", "yes"}
	var order, forms, remake []*wordCodes
	for _, p := range b.parts {
		order, forms, remake = append(order, p.order), append(forms, p.form), append(remake, p.remake)
	}
	var all sync.WaitGroup // each works on columns of its own
	all.Go(b.compact)
	all.Go(b.customers)
	factors := func(of []*wordCodes, columns ...*cohort.Factor) {
		for k, f := range columns {
			all.Go(func() { *f = factor(of, k) })
		}
	}
	factors(forms, &c.Measurer, &c.MeasurerKind, &c.Region)
	factors(order, &c.Closure, &c.Channel, &c.Sock, &c.Sex)
	factors(remake, &c.Cause, &c.Zone, &c.Direction, &c.Side)
	all.Wait()
	return c
}

func (b *cohortBuilder) compact() {
	c := b.c
	closeGaps(b.parts, &c.OrderID)
	closeGaps(b.parts, &c.CutNo)
	for _, x := range []*cohort.Column[float64]{&c.ShaftMM, &c.Cost, &c.CutAlarm, &c.FirstAlarm} {
		closeGaps(b.parts, x)
	}
	for _, x := range []*cohort.Column[bool]{&c.CalledBack, &c.Answered, &c.NoDayTold} {
		closeGaps(b.parts, x)
	}
	for _, x := range []*cohort.Column[int32]{&c.Tucked.Code, &c.Orthotic.Code} {
		closeGaps(b.parts, x)
	}
	for _, x := range []*cohort.Column[cohort.Day]{&c.Received, &c.Shipped, &c.Remade, &c.Returned, &c.Adjusted} {
		closeGaps(b.parts, x)
	}
	for k := range form.Faults {
		closeGaps(b.parts, &c.Cut[k])
		closeGaps(b.parts, &c.First[k])
	}
	for k := range b.applied {
		closeGaps(b.parts, &b.applied[k].Held)
	}
}

// closeGaps moves the rows of all parts together.
func closeGaps[S ~[]T, T any](parts []*cohortPart, column *S) {
	n := 0
	for _, p := range parts {
		if n < p.first {
			copy((*column)[n:], (*column)[p.first:p.first+p.n])
		}
		n += p.n
	}
	*column = (*column)[:n]
}

// customers codes customers from 0 in the order in which they come; an order
// without one is a customer of its own.
func (b *cohortBuilder) customers() {
	closeGaps(b.parts, &b.c.Customer)
	closeGaps(b.parts, &b.who)
	codes := make(map[uint64]int32, len(b.who))
	next := int32(0)
	for i, who := range b.who {
		code, ok := codes[who]
		if unknown := b.c.Customer[i] < 0; unknown || !ok {
			code = next
			next++
			if !unknown {
				codes[who] = code
			}
		}
		b.c.Customer[i] = code
	}
}

// wordCodes codes columns of words that come joined by the unit separator: few
// combinations stand for many rows.
type wordCodes struct {
	columns int
	codes   map[string]int32
	combos  [][]string
	rows    []int32
}

func newWordCodes(columns, room int) *wordCodes {
	return &wordCodes{columns: columns, codes: map[string]int32{}, rows: make([]int32, 0, room)}
}

func (w *wordCodes) add(joined string) {
	code, ok := w.codes[joined]
	if !ok {
		code = int32(len(w.combos))
		w.codes[joined] = code
		parts := strings.SplitN(joined, "\x1f", w.columns)
		w.combos = append(w.combos, append(parts, make([]string, w.columns-len(parts))...))
	}
	w.rows = append(w.rows, code)
}

// factor is column k of the parts' word codes, its levels sorted, "" first.
func factor(parts []*wordCodes, k int) (f cohort.Factor) {
	code, rows := map[string]int32{"": 0}, 0
	for _, w := range parts {
		rows += len(w.rows)
		for _, combo := range w.combos {
			code[combo[k]] = 0
		}
	}
	f.Levels = slices.Sorted(maps.Keys(code))
	for i, level := range f.Levels {
		code[level] = int32(i)
	}
	f.Code = make([]int32, 0, rows)
	for _, w := range parts {
		of := make([]int32, len(w.combos))
		for i, combo := range w.combos {
			of[i] = code[combo[k]]
		}
		for _, row := range w.rows {
			f.Code = append(f.Code, of[row])
		}
	}
	return f
}
