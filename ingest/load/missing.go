package load

import (
	"context"
	"fmt"

	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// noteMissing tells of rows of the book that a newer export of the same file
// does not hold any more: the file's name is in the ledger with another content.
// They stay; that something was unticked or struck out can't be told from a
// sheet that holds a part.
func (l *loader) noteMissing(ctx context.Context, s *sheets.Sheet) error {
	what, ok := map[string]string{"orders": "SELECT count(*) FROM orders ANTI JOIN ok_orders USING (order_id)",
		"outcomes": "SELECT count(*) FROM outcomes b WHERE NOT EXISTS (SELECT 1 FROM ok_outcomes o WHERE o.ord < " + carriedOrd + " AND o.order_id = b.order_id AND o.result = b.result)"}[s.Name]
	if !ok {
		return nil
	}
	for _, p := range l.fresh(s.Name) {
		newer := false
		for _, line := range l.ledger {
			for _, f := range line.Files {
				newer = newer || f.Sheet == s.Name && f.File == p.count.File && f.SHA256 != p.table.SHA256
			}
		}
		if !newer {
			return nil
		}
	}
	n, err := engine.Number(ctx, l.conn, what)
	if n > 0 && err == nil {
		one, many := "order", "orders"
		if s.Name == "outcomes" {
			one, many = "report of fit", "reports of fit"
		}
		l.report.Notes = append(l.report.Notes, fmt.Sprintf("%d %s of the book %s not in this export; the book keeps what it has", n, plural(int(n), one, many), plural(int(n), "is", "are")))
	}
	return err
}
