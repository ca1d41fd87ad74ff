package orderbook

import (
	"context"
	"database/sql"
	"database/sql/driver"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
)

//go:embed sql/cohort.sql
var cohortSQL string

// Cohort reads the shipped orders as columns, by shipping day and order id,
// with the orders left out counted by reason. An empty book gives an empty
// cohort.
func (r *Reader) Cohort(ctx context.Context) (*cohort.Cohort, error) {
	var b *cohortBuilder
	begin := func(orders int) { b = newCohortBuilder(r.asOf, orders) }
	if err := r.inStretches(ctx, cohortQuery, begin, func(v []driver.Value) error { return b.add(v) }); err != nil {
		return nil, fmt.Errorf("reading the cohort: %w", err)
	}
	c := b.cohort()
	var err error
	c.Excluded, err = r.excluded(ctx)
	return c, err
}

func cohortQuery(from, to string) string {
	return strings.NewReplacer("{from}", from, "{to}", to).Replace(cohortSQL)
}

// excluded counts the orders that are not in the cohort, most first, and names
// the first three of each reason.
func (r *Reader) excluded(ctx context.Context) (out []cohort.Exclusion, err error) {
	const q = `SELECT reason, count(*), array_to_string(list_sort(min(order_id, 3)), chr(31))
		FROM left_out GROUP BY reason ORDER BY count(*) DESC, reason`
	err = r.each(ctx, q, nil, func(rows *sql.Rows) error {
		var e cohort.Exclusion
		var some string
		if err := rows.Scan(&e.Reason, &e.Orders, &some); err != nil {
			return err
		}
		e.Some = splitList(some)
		out = append(out, e)
		return nil
	})
	return out, err
}

// A cohortBuilder unpacks the rows of sql/cohort.sql.
type cohortBuilder struct {
	c                   *cohort.Cohort
	customers           map[uint64]int32
	next                int32
	room                int
	order, form, remake *words
}

func newCohortBuilder(asOf cohort.Day, room int) *cohortBuilder {
	days := func() []cohort.Day { return make([]cohort.Day, room) }
	c := &cohort.Cohort{
		AsOf: asOf, OrderID: make([]string, 0, room), Customer: make([]int32, room),
		Received: days(), Shipped: days(), Remade: days(), Returned: days(), Adjusted: days(),
		ShaftMM: make([]float64, room), Cost: make([]float64, room), CutNo: make([]int16, room),
		CalledBack: make([]bool, room), Answered: make([]bool, room),
		Tucked: cohort.Factor{Code: make([]int32, room)}, Orthotic: cohort.Factor{Code: make([]int32, room)},
	}
	for range cohort.Faults {
		c.Cut = append(c.Cut, make([]cohort.State, room))
		c.First = append(c.First, make([]cohort.State, room))
	}
	return &cohortBuilder{
		room: room, c: c, customers: make(map[uint64]int32, room),
		order: newWords(4, room), form: newWords(2, room), remake: newWords(4, room),
	}
}

func (b *cohortBuilder) add(v []driver.Value) error {
	c, i := b.c, len(b.c.OrderID)
	if i == b.room {
		return errors.New("the book has more orders than it said")
	}
	c.OrderID = append(c.OrderID, v[0].(string))
	c.Customer[i] = b.customer(v[1])
	b.states(i, uint64(v[2].(int64)))
	days := uint64(v[3].(int64))
	c.Shipped[i], c.Received[i], c.Remade[i] = packedDay(days), packedDay(days>>20), packedDay(days>>40)
	more := uint64(v[4].(int64))
	c.Returned[i], c.Adjusted[i], c.CutNo[i] = packedDay(more), packedDay(more>>20), int16(more>>40&0x7fff)
	c.ShaftMM[i], c.Cost[i] = v[5].(float64), v[6].(float64)
	b.order.add(v[7].(string))
	b.form.add(v[8].(string))
	b.remake.add(v[9].(string))
	return nil
}

// customer codes customers from 0 in the order in which they come; an order
// without one is a customer of its own.
func (b *cohortBuilder) customer(v driver.Value) int32 {
	h, known := v.(uint64)
	code, seen := b.customers[h]
	if known && seen {
		return code
	}
	code = b.next
	b.next++
	if known {
		b.customers[h] = code
	}
	return code
}

func (b *cohortBuilder) states(i int, s uint64) {
	c := b.c
	for k := range cohort.Faults {
		c.Cut[k][i] = cohort.State(s >> (2 * k) & 3)
		c.First[k][i] = cohort.State(s >> (26 + 2*k) & 3)
	}
	c.CalledBack[i] = s>>52&1 == 1
	c.Answered[i] = s>>53&1 == 1
	c.Tucked.Code[i] = int32(s >> 54 & 3)
	c.Orthotic.Code[i] = int32(s >> 56 & 3)
}

const dayZero = 1 << 19

func packedDay(bits uint64) cohort.Day {
	d := int32(bits & 0xfffff)
	if d == 0 {
		return cohort.NoDay
	}
	return cohort.Day(d - dayZero)
}

func (b *cohortBuilder) cohort() *cohort.Cohort {
	c := b.c
	b.cut(len(c.OrderID))
	c.Tucked.Levels, c.Orthotic.Levels = []string{"", "no", "yes"}, []string{"", "no", "yes"}
	b.order.factors(&c.Closure, &c.Channel, &c.Sock, &c.Sex)
	b.form.factors(&c.Measurer, &c.Region)
	b.remake.factors(&c.Cause, &c.Zone, &c.Direction, &c.Side)
	return c
}

// cut gives all columns the length n.
func (b *cohortBuilder) cut(n int) {
	c := b.c
	c.Customer, c.ShaftMM, c.Cost, c.CutNo = c.Customer[:n], c.ShaftMM[:n], c.Cost[:n], c.CutNo[:n]
	c.CalledBack, c.Answered = c.CalledBack[:n], c.Answered[:n]
	c.Tucked.Code, c.Orthotic.Code = c.Tucked.Code[:n], c.Orthotic.Code[:n]
	for _, d := range []*[]cohort.Day{&c.Received, &c.Shipped, &c.Remade, &c.Returned, &c.Adjusted} {
		*d = (*d)[:n]
	}
	for k := range cohort.Faults {
		c.Cut[k], c.First[k] = c.Cut[k][:n], c.First[k][:n]
	}
}

// words codes columns of words that come joined by the unit separator: few
// combinations stand for many rows.
type words struct {
	columns int
	seen    map[string]int32
	combos  [][]string
	rows    []int32
}

func newWords(columns, room int) *words {
	return &words{columns: columns, seen: map[string]int32{}, rows: make([]int32, 0, room)}
}

func (w *words) add(joined string) {
	code, ok := w.seen[joined]
	if !ok {
		code = int32(len(w.combos))
		w.seen[joined] = code
		parts := strings.SplitN(joined, "\x1f", w.columns)
		w.combos = append(w.combos, append(parts, make([]string, w.columns-len(parts))...))
	}
	w.rows = append(w.rows, code)
}

// factors gives one factor a column, its levels sorted, "" first.
func (w *words) factors(out ...*cohort.Factor) {
	for k, f := range out {
		code := map[string]int32{"": 0}
		for _, combo := range w.combos {
			code[combo[k]] = 0
		}
		f.Levels = slices.Sorted(maps.Keys(code))
		for i, level := range f.Levels {
			code[level] = int32(i)
		}
		f.Code = make([]int32, len(w.rows))
		for i, row := range w.rows {
			f.Code[i] = code[w.combos[row][k]]
		}
	}
}

func orNaN(v sql.NullFloat64) float64 {
	if !v.Valid {
		return math.NaN()
	}
	return v.Float64
}
