package orderbook

import (
	"context"
	"database/sql"
	_ "embed"
	"strings"

	"lastroom/ingest/engine"
)

// A Named is an id of the book with what it is the id of: order, form or customer.
type Named struct{ Kind, ID string }

//go:embed sql/find.sql
var findSQL string

// idsAsked is one of the queries of find.sql.
func idsAsked(part string) string {
	return engine.Section(findSQL, part, "{ids}", engine.Section(findSQL, "ids"))
}

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
	err = r.each(ctx, idsAsked("meant"), []any{text, small, number, letters, mostFound}, func(rows *sql.Rows) error {
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
	err = r.each(ctx, idsAsked("of length"), []any{letters - about, letters + about}, func(rows *sql.Rows) error {
		var n Named
		err := rows.Scan(&n.Kind, &n.ID)
		out = append(out, n)
		return err
	})
	return out, err
}
