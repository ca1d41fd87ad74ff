package load

import (
	"context"
	"fmt"
	"strings"

	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sheets"
)

// A sheet replaces only what it speaks of. What it does not speak of is carried
// over: put beside the rows of the load under a place of its own, so that a key
// is compared, and replaced, with all that will hold of it.
//
//   - a number replaces the number of that place of the form; the others of the
//     form stay (unless Options.WholeForms);
//   - reports of fit and call-backs are events: those of one day replace those
//     of that day, and one with its day one of the same kind without;
//   - a column that a sheet lacks leaves what the book has.
const carriedOrd = "1152921504606846976" // beyond any row of a load

// events are the day columns of sheets whose rows are events, and what says
// which kind of event a row is.
var events = map[string][2]string{"outcomes": {"reported_on", "result"}, "callbacks": {"called_on", "fault"}}

// again reports whether the book has any row of a sheet.
func (l *loader) again(ctx context.Context, s *sheets.Sheet) (bool, error) {
	n, err := engine.Number(ctx, l.conn, l.fill(s, "SELECT count(*) FROM (SELECT 1 FROM {table} LIMIT 1)"))
	return n > 0, err
}

// fillLacking puts what the book has into columns that a part lacks.
func (l *loader) fillLacking(ctx context.Context, s *sheets.Sheet) error {
	if there, err := l.again(ctx, s); !there || err != nil || s.Set {
		return err
	}
	for _, p := range l.fresh(s.Name) {
		var sets []string
		for i, c := range s.Columns {
			if p.layout.Cells[i].At >= 0 || c.IsUnit() {
				continue
			}
			for _, name := range bookColumns(c) {
				sets = append(sets, name+" = b."+name)
			}
		}
		if len(sets) == 0 {
			continue
		}
		if err := l.runSteps(ctx, s, fmt.Sprintf("UPDATE good_{s} SET %s FROM {s} b WHERE good_{s}.{key} = b.{key} AND ord BETWEEN %d AND %d;\n",
			strings.Join(sets, ", "), p.lo, p.hi-1)); err != nil {
			return err
		}
	}
	return nil
}

// carryEvents carries over the events of other days.
func (l *loader) carryEvents(ctx context.Context, s *sheets.Sheet) error {
	e, ok := events[s.Name]
	if there, err := l.again(ctx, s); !ok || !there || err != nil {
		return err
	}
	return l.runSteps(ctx, s, strings.NewReplacer("{day}", e[0], "{kind}", e[1]).Replace(`INSERT INTO good_{s} BY NAME
	SELECT `+carriedOrd+` AS ord, {content} FROM {s} b WHERE {key} IN (SELECT {key} FROM ok_{s})
		AND NOT EXISTS (SELECT 1 FROM ok_{s} o WHERE o.{key} = b.{key} AND o.{day} IS NOT DISTINCT FROM b.{day})
		AND NOT (b.{day} IS NULL AND EXISTS (SELECT 1 FROM ok_{s} o WHERE o.{key} = b.{key} AND o.{kind} IS NOT DISTINCT FROM b.{kind}));
`))
}

// carryNumbers carries over the numbers of forms whose places the load does not
// speak of, and sums these forms up again. A row with an empty value speaks of
// its place: it takes the number back.
func (l *loader) carryNumbers(ctx context.Context, s *sheets.Sheet) error {
	if err := engine.Script(ctx, l.conn, `CREATE OR REPLACE TEMP TABLE again (form_id VARCHAR);
CREATE OR REPLACE TEMP TABLE carried (form_id VARCHAR, place_id INTEGER, reading_id INTEGER);
CREATE OR REPLACE TEMP VIEW will_coded AS SELECT form_id, place_id, reading_id FROM ok_coded UNION ALL FROM carried;
`); err != nil {
		return err
	}
	if there, err := l.again(ctx, s); !there || err != nil || l.opt.WholeForms {
		return err
	}
	const forms = `INSERT INTO again
	SELECT form_id FROM seen JOIN form_numbers b USING (form_id) WHERE b.numbers <> seen.numbers OR b.set_hash <> seen.set_hash
	UNION SELECT form_id FROM taken_back JOIN form_numbers USING (form_id)`
	if err := l.exec(ctx, forms); err != nil {
		return err
	}
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM again")
	if n == 0 || err != nil {
		return err
	}
	if err := engine.Script(ctx, l.conn, `CREATE OR REPLACE TEMP TABLE spoken AS
	SELECT form_id, side, clothing, point, coalesce(height_mm, -1) AS height FROM ok_coded SEMI JOIN again USING (form_id) JOIN places USING (place_id)
	UNION SELECT form_id, side, clothing, point, coalesce(height_mm, -1) FROM taken_back;
INSERT INTO carried
	SELECT b.form_id, b.place_id, b.reading_id FROM measured b SEMI JOIN again USING (form_id) JOIN places p USING (place_id)
	ANTI JOIN spoken s ON s.form_id = b.form_id AND s.side = p.side AND s.clothing = p.clothing AND s.point = p.point AND s.height = coalesce(p.height_mm, -1);
CREATE OR REPLACE TEMP TABLE whole AS
	SELECT o.ord, o.form_id, p.side, p.clothing, p.point, p.height_mm, r.value_mm, `+orderbook.RowHash+` AS row_hash
	FROM (SELECT ord, form_id, place_id, reading_id FROM ok_coded SEMI JOIN again USING (form_id) UNION ALL SELECT `+carriedOrd+`, * FROM carried) o
	JOIN places p USING (place_id) JOIN readings r USING (reading_id);
DELETE FROM seen WHERE form_id IN (SELECT form_id FROM again);
`); err != nil {
		return err
	}
	rows, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM whole")
	if err != nil {
		return err
	}
	if err := l.inParts(ctx, rows, "whole"); err != nil {
		return err
	}
	// What ends is told of the row that says so.
	return l.exec(ctx, `UPDATE seen SET first = t.first FROM (SELECT form_id, min(ord) AS first FROM taken_back GROUP BY form_id) t
	WHERE seen.form_id = t.form_id AND seen.first >= `+carriedOrd)
}

// emptied adds to the changed forms those of which every number was taken back.
const emptied = `INSERT INTO changed
	SELECT form_id, min(ord), any_value(numbers) FROM taken_back JOIN form_numbers USING (form_id)
	WHERE form_id IN (SELECT form_id FROM again) AND form_id NOT IN (SELECT form_id FROM seen) GROUP BY form_id`
