package orderbook

import (
	"context"
	"database/sql"
	"strings"
)

// A Named is an id of the book with what it is the id of: order, form or customer.
type Named struct{ Kind, ID string }

// allIDs are the ids known by the as-of day. A form that has its order's number is found
// by the order.
const allIDs = `SELECT 'order' AS kind, order_id AS id FROM known_order
	UNION ALL SELECT 'form', form_id FROM forms SEMI JOIN known_order USING (order_id) WHERE form_id <> order_id AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))
	UNION ALL SELECT DISTINCT 'customer', customer_id FROM known_order WHERE customer_id IS NOT NULL`

// mostFound is how many ids one text may mean.
const mostFound = 50

// FindIDs are the ids that a text means, as a person remembers them: those written
// just so; else those in capitals or small letters; else those that are the same but
// for letters and zeros in front, where the text has letters with these. Orders come
// before forms and customers.
func (r *Reader) FindIDs(ctx context.Context, text string) (out []Named, err error) {
	text = strings.TrimSpace(text)
	small := strings.ToLower(text)
	number := strings.TrimLeftFunc(small, func(c rune) bool { return c < '0' || c > '9' })
	letters := strings.TrimSuffix(small, number)
	number = strings.TrimLeft(number, "0")
	best := -1
	err = r.each(ctx, `SELECT kind, id, CASE WHEN id = $1 THEN 0 WHEN lower(id) = $2 THEN 1 ELSE 2 END AS tier FROM (`+allIDs+`)
		WHERE lower(id) = $2 OR ($3 <> '' AND regexp_replace(lower(id), '^[^0-9]*0*', '') = $3 AND ($4 = '' OR regexp_extract(lower(id), '^[^0-9]*') = $4))
		ORDER BY tier, CASE kind WHEN 'order' THEN 0 WHEN 'form' THEN 1 ELSE 2 END, id LIMIT $5`, []any{text, small, number, letters, mostFound}, func(rows *sql.Rows) error {
		var n Named
		var tier int
		err := rows.Scan(&n.Kind, &n.ID, &tier)
		if best < 0 || tier == best {
			best = tier
			out = append(out, n)
		}
		return err
	})
	return out, err
}

// IDsOfLength are the ids that are about as long as a text, by id.
func (r *Reader) IDsOfLength(ctx context.Context, letters, about int) (out []Named, err error) {
	err = r.each(ctx, "SELECT kind, id FROM ("+allIDs+") WHERE length(id) BETWEEN $1 AND $2 ORDER BY id, kind", []any{letters - about, letters + about}, func(rows *sql.Rows) error {
		var n Named
		err := rows.Scan(&n.Kind, &n.ID)
		out = append(out, n)
		return err
	})
	return out, err
}
