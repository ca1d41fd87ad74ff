package load

import (
	"context"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// settle puts the shop settings of the load's file in the book. Where the
// scheme of heights changes, what the numbers of all forms amount to is worked
// out again.
func (l *loader) settle(ctx context.Context) (changed bool, err error) {
	if l.opt.Settings == "" {
		return false, nil
	}
	settings, err := sheets.ReadSettings(l.opt.Settings)
	if err != nil {
		return false, err
	}
	for _, s := range settings {
		same, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM settings WHERE name = "+engine.Quote(s.Name)+" AND value = "+engine.Quote(s.Value))
		if err != nil {
			return changed, err
		}
		if same > 0 {
			continue
		}
		changed = true
		if err := l.exec(ctx, "DELETE FROM settings WHERE name = ?", s.Name); err != nil {
			return changed, err
		}
		if err := l.exec(ctx, "INSERT INTO settings VALUES (?, ?)", s.Name, s.Value); err != nil {
			return changed, err
		}
	}
	if !changed {
		return false, nil
	}
	l.all = true
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM measured")
	if err == nil {
		err = l.exec(ctx, "CREATE OR REPLACE TEMP TABLE summaries AS "+bookfile.FormNumbers("(SELECT *, 0 AS ord, "+bookfile.RowHash+" AS row_hash FROM measurements LIMIT 0)"))
	}
	if err == nil {
		err = l.summarizeInParts(ctx, n, "(SELECT *, 0 AS ord, "+bookfile.RowHash+" AS row_hash FROM measurements)")
	}
	if err != nil {
		return true, err
	}
	return true, engine.Script(ctx, l.conn, engine.Section(mergeSQL, "all numbers"))
}
