package orderbook

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"

	"github.com/marcboeker/go-duckdb/v2"

	"lastroom/analysis/cohort"
)

// ordersAtOnce is about how many orders one query of a large book joins and
// sorts. It bounds the engine's memory whatever the size of the book.
const ordersAtOnce = 250_000

// A stretch is a run of shipping days, both ends in it.
type stretch struct{ from, to cohort.Day }

// stretches part the shipping days into runs of whole months with about
// ordersAtOnce orders each.
func stretches(ctx context.Context, conn *sql.Conn) (out []stretch, orders int, err error) {
	rows, err := conn.QueryContext(ctx, `SELECT date_trunc('month', shipped_on)::DATE AS month, count(*)
		FROM known_order WHERE shipped_on IS NOT NULL AND remake_of_order_id IS NULL GROUP BY month ORDER BY month`)
	if err != nil {
		return nil, 0, err
	}
	defer rows.Close()
	room := 0
	for rows.Next() {
		var t sql.NullTime
		var n int
		if err := rows.Scan(&t, &n); err != nil {
			return nil, 0, err
		}
		first := dayOf(t)
		if len(out) == 0 || n > room {
			out = append(out, stretch{from: first})
			room = ordersAtOnce
		}
		room -= n
		orders += n
		out[len(out)-1].to = first.Month().Last()
	}
	return out, orders, rows.Err()
}

// inStretches runs a query over the orders stretch by stretch, in the order of
// shipping days, and calls row for each row. query is given the stretch as two
// SQL dates; begin is told how many orders there are at most.
func (r *Reader) inStretches(ctx context.Context, query func(from, to string) string, begin func(orders int), row func([]driver.Value) error) error {
	conn, err := r.conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	for _, s := range []string{
		"CREATE OR REPLACE TEMP TABLE later_one AS SELECT form_id FROM later_form",
		"CREATE OR REPLACE TEMP TABLE contested_one AS SELECT order_id FROM contested_cut",
		"CREATE OR REPLACE TEMP TABLE called_one AS SELECT DISTINCT order_id FROM call_back",
	} {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	list, orders, err := stretches(ctx, conn)
	if err != nil {
		return err
	}
	begin(orders)
	for _, s := range list {
		if err := eachValues(ctx, conn, query("DATE "+quote(s.from.String()), "DATE "+quote(s.to.String())), row); err != nil {
			return err
		}
	}
	_, err = conn.ExecContext(ctx, "DROP TABLE temp.later_one; DROP TABLE temp.contested_one; DROP TABLE temp.called_one")
	return err
}

// eachValues runs a query below database/sql, whose conversions would cost
// more than the query.
func eachValues(ctx context.Context, conn *sql.Conn, query string, row func([]driver.Value) error) error {
	return conn.Raw(func(c any) (err error) {
		rows, err := c.(*duckdb.Conn).QueryContext(ctx, query, nil)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, rows.Close()) }()
		values := make([]driver.Value, len(rows.Columns()))
		for {
			if err := rows.Next(values); err == io.EOF {
				return nil
			} else if err != nil {
				return err
			}
			if err := row(values); err != nil {
				return err
			}
		}
	})
}
