package orderbook

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"maps"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"lastroom/analysis/cohort"
	"lastroom/ingest/engine"
)

// partitionSizes say how the orders of a book are partitioned: atOnce is about how
// many orders one query of a large book joins and sorts, which bounds the engine's
// memory whatever the size of the book; a book of more than few is read in two
// partitions at least, so that the next one is joined while one is taken over.
type partitionSizes struct{ atOnce, few int }

var usualSizes = partitionSizes{atOnce: 125_000, few: 20_000}

// A partition is a run of shipping days, both ends in it, with at most so many
// orders of the cohort before it and in it.
type partition struct {
	from, to      cohort.Day
	first, orders int
}

var shippingDays = engine.Section(questionsSQL, "shipping days")

// partition parts the shipping days into runs of about equal numbers of orders.
func (z partitionSizes) partition(ctx context.Context, conn *sql.Conn) ([]partition, error) {
	rows, err := conn.QueryContext(ctx, shippingDays)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var days []partition
	total := 0
	for rows.Next() {
		var t sql.NullTime
		var n int
		if err := rows.Scan(&t, &n); err != nil {
			return nil, err
		}
		days = append(days, partition{dayOf(t), dayOf(t), total, n})
		total += n
	}
	return z.join(days, total), rows.Err()
}

// join joins days to an even number of partitions, so that none is left to be
// read alone; of few orders to one.
func (z partitionSizes) join(days []partition, total int) (out []partition) {
	many := 1
	if total > z.few {
		many = 2 * ((total + 2*z.atOnce - 1) / (2 * z.atOnce))
	}
	for _, d := range days {
		if k := len(out) - 1; k >= 0 && d.first*many/total == out[k].first*many/total {
			out[k].to, out[k].orders = d.to, out[k].orders+d.orders
			continue
		}
		out = append(out, d)
	}
	return out
}

// workedOut are views that the cohort's query asks for in each partition, worked
// out once.
var workedOut = map[string]string{
	"later_one":     "SELECT form_id FROM later_form",
	"contested_one": "SELECT order_id FROM contested_cut",
	"called_one":    "SELECT DISTINCT order_id FROM call_back",
	"report_one":    "FROM report",
	"began_one":     "FROM book_began",
}

// inPartitions runs a query over the orders partition by partition, a few at a time.
// query is given a partition as two SQL dates; begin is told of all partitions; row
// is called for each row of partition k, in order, for several partitions at the
// same time.
func (r *Reader) inPartitions(ctx context.Context, query func(from, to string) string, begin func([]partition), row func(k int, v []driver.Value) error) error {
	r.overAll.Lock()
	defer r.overAll.Unlock()
	defer r.forgetWorkedOut(context.WithoutCancel(ctx))
	names := slices.Sorted(maps.Keys(workedOut))
	err := r.parallel(ctx, slices.Collect(maps.Values(workedOut)), len(names), func(conn *sql.Conn, k int) error {
		_, err := conn.ExecContext(ctx, "CREATE OR REPLACE TABLE "+names[k]+" AS "+workedOut[names[k]])
		return err
	})
	if err != nil {
		return err
	}
	var list []partition
	if err := r.parallel(ctx, []string{shippingDays}, 1, func(conn *sql.Conn, _ int) (err error) { list, err = r.sizes.partition(ctx, conn); return err }); err != nil {
		return err
	}
	begin(list)
	return r.parallel(ctx, []string{query("", "")}, len(list), func(conn *sql.Conn, k int) error {
		q := query("DATE "+engine.Quote(list[k].from.String()), "DATE "+engine.Quote(list[k].to.String()))
		return engine.EachRow(ctx, conn, q, func(v []driver.Value) error { return row(k, v) })
	})
}

// forgetWorkedOut drops what was worked out; where it can't, the next cohort
// makes it anew.
func (r *Reader) forgetWorkedOut(ctx context.Context) {
	conn, err := r.conn(ctx)
	if err != nil {
		return
	}
	defer conn.Close()
	for name := range workedOut {
		_, _ = conn.ExecContext(ctx, "DROP TABLE IF EXISTS "+name)
	}
}

// parallel does n things with a connection each, begun in order of their
// numbers, a few at a time; they ask queries that name what these name. The first
// error stops it.
func (r *Reader) parallel(ctx context.Context, queries []string, n int, do func(conn *sql.Conn, k int) error) error {
	var next atomic.Int64
	var all sync.WaitGroup
	errs := make([]error, min(n, max(2, min(4, runtime.GOMAXPROCS(0)))))
	for w := range errs {
		all.Go(func() {
			conn, err := r.conn(ctx, queries...)
			if err != nil {
				errs[w] = err
				return
			}
			defer conn.Close()
			for k := int(next.Add(1)) - 1; k < n && errs[w] == nil; k = int(next.Add(1)) - 1 {
				if errs[w] = do(conn, k); errs[w] != nil {
					next.Store(int64(n))
				}
			}
		})
	}
	all.Wait()
	return errors.Join(errs...)
}
