package orderbook

import (
	"cmp"
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
	"lastroom/analysis/rules"
)

//go:embed sql/cohort.sql
var cohortSQL string

// Cohort reads the shipped orders as columns, by shipping day and order id,
// with the orders left out counted by reason. An empty book gives an empty
// cohort.
func (r *Reader) Cohort(ctx context.Context) (*cohort.Cohort, error) {
	c, _, err := r.readCohort(ctx, nil)
	return c, err
}

// HoldFirstForms reads the cohort and says of each rule and each of its orders
// whether the rule holds the order's first form: With is held, Without not held,
// Unknown where the condition is NULL, NotAtRisk where there is no first form.
// The days between which a rule was in force are not looked at.
//
// Each condition is checked before anything is run; an error names the rule.
func (r *Reader) HoldFirstForms(ctx context.Context, list []rules.Rule) (*cohort.Cohort, []rules.Applied, error) {
	if err := r.CheckRules(ctx, list); err != nil {
		return nil, nil, err
	}
	c, applied, err := r.readCohort(ctx, list)
	if err != nil && ctx.Err() == nil {
		err = cmp.Or(r.brokenRule(ctx, list), err)
	}
	return c, applied, err
}

// readCohort reads the cohort with what checked rules say, in one pass over
// the forms.
func (r *Reader) readCohort(ctx context.Context, list []rules.Rule) (*cohort.Cohort, []rules.Applied, error) {
	var b *cohortBuilder
	begin := func(orders int) { b = newCohortBuilder(r.asOf, orders, list) }
	query := cohortQuery(list)
	if err := r.inStretches(ctx, query, begin, func(v []driver.Value) error { return b.add(v) }); err != nil {
		return nil, nil, fmt.Errorf("reading the cohort: %w", err)
	}
	c := b.cohort()
	var err error
	c.Excluded, err = r.excluded(ctx)
	return c, b.applied, err
}

// cohortQuery gives the query of one stretch of shipping days.
func cohortQuery(list []rules.Rule) func(from, to string) string {
	expressions, of := heldWords(list), [3]string{}
	for i := range heldCount(list) {
		for k, table := range []string{"", "a.", "p."} {
			of[k] += fmt.Sprintf(", %sheld%d", table, i)
		}
	}
	return func(from, to string) string {
		return strings.NewReplacer("{from}", from, "{to}", to, "{rules}", expressions,
			"{held}", of[0], "{held of a}", of[1], "{held of p}", of[2]).Replace(cohortSQL)
	}
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
	applied             []rules.Applied
	customers           map[uint64]int32
	next                int32
	room                int
	order, form, remake *words
}

func newCohortBuilder(asOf cohort.Day, room int, list []rules.Rule) *cohortBuilder {
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
	applied := make([]rules.Applied, len(list))
	for i, rule := range list {
		applied[i] = rules.Applied{Rule: rule, Held: make([]cohort.State, room)}
	}
	return &cohortBuilder{
		room: room, c: c, applied: applied, customers: make(map[uint64]int32, room),
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
	b.held(i, v[10:])
	return nil
}

// held unpacks what the rules say of the first form.
func (b *cohortBuilder) held(i int, words []driver.Value) {
	for k := range b.applied {
		state := cohort.NotAtRisk // no first form
		if word, ok := words[k/rulesAWord].(int64); ok {
			state = cohort.State(word >> (2 * (k % rulesAWord)) & 3)
		}
		b.applied[k].Held[i] = state
	}
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
	for k := range b.applied {
		b.applied[k].Held = b.applied[k].Held[:n]
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
		of := make([]int32, len(w.combos))
		for i, combo := range w.combos {
			of[i] = code[combo[k]]
		}
		f.Code = make([]int32, len(w.rows))
		for i, row := range w.rows {
			f.Code[i] = of[row]
		}
	}
}

func orNaN(v sql.NullFloat64) float64 {
	if !v.Valid {
		return math.NaN()
	}
	return v.Float64
}
