package load

import (
	"context"
	"database/sql/driver"
	_ "embed"
	"fmt"
	"path/filepath"
	"strings"

	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

//go:embed sql/numbers.sql
var numbersSQL string

// The measurements are by far the longest sheet, and its rows say few different
// things: a place of the form (side, clothing, point and height as written), and
// a value with its unit. A row is staged as its form and the numbers of its place
// and its value, and each different text is looked at once.

// A textTable holds the different texts of some columns, numbered. most is how
// many texts of each column are learned from a sample of the rows, so that a number
// for each combination stays small.
type textTable struct {
	name    string
	alias   string
	columns []string
	most    []int
}

var (
	placeTexts = textTable{"place_texts", "p", []string{"side", "clothing", "point", "height", "height_u"}, []int{8, 6, 20, 500, 8}}
	valueTexts = textTable{"value_texts", "v", []string{"value", "value_u"}, []int{20_000, 8}}
)

// textsOf is the table that holds every different text of a column of a staged
// sheet.
func textsOf(s *sheets.Sheet, column string) string {
	if s.Name != "measurements" {
		return "stage_" + s.Name
	}
	if column == "value" {
		return valueTexts.name
	}
	return placeTexts.name
}

// makeNumberedStage makes the empty staging table of the measurements, in a
// database of its own: in a file the engine packs it tightly, where millions of
// rows of a temporary table would fill the memory and then go to disk as they
// are.
//
// A transaction writes to one database; temporary tables are in none.
func (l *loader) makeNumberedStage(ctx context.Context) error {
	if err := l.commit(ctx); err != nil {
		return err
	}
	path, size := ":memory:", int64(0)
	for _, p := range l.fresh("measurements") {
		size += p.table.Bytes
	}
	if size > l.opt.limits.stageInMemory {
		path = filepath.Join(l.dir, "stage.duckdb")
	}
	return engine.Script(ctx, l.conn, engine.Section(numbersSQL, "open", "{path}", engine.Quote(path),
		"{search}", engine.Quote(engine.Catalog(ctx, l.conn)+".main,stage.main"),
		"{place columns}", strings.Join(placeTexts.columns, " VARCHAR, ")+" VARCHAR",
		"{value columns}", strings.Join(valueTexts.columns, " VARCHAR, ")+" VARCHAR"))
}

// dropNumberedStage gives the staging table back, if it is there.
func (l *loader) dropNumberedStage(ctx context.Context) error {
	return engine.Script(ctx, l.conn, engine.Section(numbersSQL, "close", "{book}", engine.Catalog(ctx, l.conn)))
}

// sampleRows is from how many rows of a file, from all over it, the texts are
// learned before it is read. Texts that are not among them are learned afterwards.
const sampleRows = 100_000

// stageNumbered stages the rows of a query with the columns of the measurements;
// read runs the statement that it is given, and sample one for a sample of the
// rows. The numbers are worked out of each row by itself: rows that pass a join
// come out in another order than they stand in the file.
func (l *loader) stageNumbered(ctx context.Context, s *sheets.Sheet, rows string, read, sample func(query string) error) error {
	names := strings.Join(staged(s), ", ")
	if err := sample(engine.Section(numbersSQL, "sample", "{rows}", rows, "{names}", names, "{n}", fmt.Sprint(sampleRows))); err != nil {
		return err
	}
	place, err := l.learnSampled(ctx, placeTexts)
	if err != nil {
		return err
	}
	value, err := l.learnSampled(ctx, valueTexts)
	if err != nil {
		return err
	}
	if err := read(engine.Section(numbersSQL, "stage", "{texts}", strings.Join(append(placeTexts.columns, valueTexts.columns...), ", "),
		"{place}", place.number(), "{value}", value.number(), "{rows}", rows, "{names}", names)); err != nil {
		return err
	}
	if err := l.noteTexts(ctx, place, value); err != nil {
		return err
	}
	return l.learnRest(ctx)
}

// A textNumbering gives each combination of learned texts a number, base for none at
// all: the texts of a column count from 1, and 0 is an empty cell.
type textNumbering struct {
	table textTable
	texts [][]string
	base  int64
}

// learnSampled learns the texts of the sample.
func (l *loader) learnSampled(ctx context.Context, t textTable) (c textNumbering, err error) {
	c = textNumbering{table: t, texts: make([][]string, len(t.columns))}
	if c.base, err = engine.Number(ctx, l.conn, "SELECT coalesce(max(no), 0) + 1 FROM "+t.name); err != nil {
		return c, err
	}
	for i, name := range t.columns {
		found, err := engine.Texts(ctx, l.conn, engine.Section(numbersSQL, "frequent", "{column}", name, "{n}", fmt.Sprint(t.most[i])))
		if err != nil {
			return c, err
		}
		for _, f := range found {
			c.texts[i] = append(c.texts[i], f[0])
		}
	}
	return c, nil
}

// code is the number of a cell's text; NULL where it was not learned. Few texts
// are compared one after another, which is quicker than looking them up.
func (c textNumbering) code(i int) string {
	cell := c.table.columns[i]
	var texts, whens []string
	for n, t := range c.texts[i] {
		texts = append(texts, engine.Quote(t))
		whens = append(whens, fmt.Sprintf("WHEN %s = %s THEN %d", cell, engine.Quote(t), n+1))
	}
	if len(texts) <= fewTexts {
		return fmt.Sprintf("CASE %s WHEN %s IS NULL THEN 0 END", strings.Join(whens, " "), cell)
	}
	return fmt.Sprintf("CASE WHEN %[1]s IS NULL THEN 0 ELSE enum_code(TRY_CAST(%[1]s AS ENUM(%[2]s)))::INTEGER + 1 END", cell, strings.Join(texts, ", "))
}

// number is the number of a row's texts; NULL where one of them was not learned.
func (c textNumbering) number() string {
	number := "0"
	for i := range c.texts {
		number = fmt.Sprintf("(%s) * %d + %s", number, len(c.texts[i])+1, c.code(i))
	}
	return fmt.Sprintf("%s + %d", number, c.base)
}

// row is the texts of a number, for their table.
func (c textNumbering) row(no int64) []driver.Value {
	row := make([]driver.Value, 1+len(c.texts))
	row[0] = int32(no)
	no -= c.base
	for i := len(c.texts) - 1; i >= 0; i-- {
		n := int64(len(c.texts[i]) + 1)
		if at := no % n; at > 0 {
			row[1+i] = c.texts[i][at-1]
		}
		no /= n
	}
	return row
}

// noteTexts puts the texts of the numbers that the rows just staged have in
// their tables.
func (l *loader) noteTexts(ctx context.Context, place, value textNumbering) error {
	found, err := engine.Texts(ctx, l.conn, engine.Section(numbersSQL, "used", "{first}", fmt.Sprint(place.base)))
	if err != nil {
		return err
	}
	for at, c := range []textNumbering{place, value} {
		if err := engine.Append(l.conn, "temp", c.table.name, func(add func(...driver.Value) error) error {
			for _, f := range found {
				if f[at] == "" {
					continue
				}
				if err := add(c.row(atoi(f[at]))...); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// learnRest numbers the texts that were not among those of the sample.
func (l *loader) learnRest(ctx context.Context) error {
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM stage_measurements WHERE place_no IS NULL")
	if n == 0 || err != nil {
		return err
	}
	if err := l.groupCarefully(ctx, n); err != nil {
		return err
	}
	defer l.allThreads(ctx)
	if err := l.exec(ctx, engine.Section(numbersSQL, "unlearned")); err != nil {
		return err
	}
	at, text, same := 1, "", []string{"{same place}", "", "{same value}", ""}
	for k, t := range []textTable{placeTexts, valueTexts} {
		var cells, equal []string
		for _, c := range t.columns {
			cells = append(cells, fmt.Sprintf("unlearned[%d] AS %s", at, c))
			equal = append(equal, fmt.Sprintf("%s.%s IS NOT DISTINCT FROM unlearned[%d]", t.alias, c, at))
			at++
		}
		text += engine.Section(numbersSQL, "learn", "{texts}", t.name, "{columns}", strings.Join(t.columns, ", "), "{cells}", strings.Join(cells, ", "))
		same[2*k+1] = strings.Join(equal, " AND ")
	}
	return engine.Script(ctx, l.conn, text+engine.Section(numbersSQL, "learned", same...))
}
