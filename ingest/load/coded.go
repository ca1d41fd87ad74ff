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

// The measurements are by far the longest sheet, and its rows say few different
// things: a place of the form (side, clothing, point and height as written), and
// a value with its unit. A row is staged as its form and the numbers of its place
// and its value, and each different text is looked at once.

// A textTable holds the different texts of some columns, numbered. most is how
// many texts of each column are learned from a sample of the rows, so that a number
// for each combination stays small.
type textTable struct {
	name    string
	columns []string
	most    []int
}

var (
	placeTexts = textTable{"place_texts", []string{"side", "clothing", "point", "height", "height_u"}, []int{8, 6, 20, 500, 8}}
	valueTexts = textTable{"value_texts", []string{"value", "value_u"}, []int{20_000, 8}}
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

func (t textTable) make() string {
	return fmt.Sprintf("CREATE OR REPLACE TEMP TABLE %s (no INTEGER, %s VARCHAR);\n", t.name, strings.Join(t.columns, " VARCHAR, "))
}

// learn is the statement that numbers the texts of rows that are new.
func (t textTable) learn(rows string) string {
	c := strings.Join(t.columns, ", ")
	return fmt.Sprintf(`INSERT INTO %[1]s SELECT (SELECT coalesce(max(no), 0) FROM %[1]s) + row_number() OVER (), *
	FROM (SELECT %[2]s FROM %[3]s EXCEPT SELECT %[2]s FROM %[1]s);
`, t.name, c, rows)
}

// is compares the columns of the table, under the name as, with texts.
func (t textTable) is(as string, text func(column string) string) string {
	var same []string
	for _, c := range t.columns {
		same = append(same, as+"."+c+" IS NOT DISTINCT FROM "+text(c))
	}
	return strings.Join(same, " AND ")
}

// stageInMemory is up to how many bytes of sheets the staged measurements stay in
// memory. A variable so that a test need not load so much.
var stageInMemory int64 = 128 << 20

// makeCodedStage makes the empty staging table of the measurements, in a
// database of its own: in a file the engine packs it tightly, where millions of
// rows of a temporary table would fill the memory and then go to disk as they
// are. missed are the texts of a row that had no number when it was read, in the
// order of placeTexts and valueTexts.
//
// A transaction writes to one database; temporary tables are in none.
func (l *loader) makeCodedStage(ctx context.Context) error {
	if err := l.milestone(ctx); err != nil {
		return err
	}
	path, size := ":memory:", int64(0)
	for _, p := range l.fresh("measurements") {
		size += p.table.Bytes
	}
	if size > stageInMemory {
		path = filepath.Join(l.dir, "stage.duckdb")
	}
	return engine.Script(ctx, l.conn, "ATTACH "+engine.Quote(path)+" AS stage;\n"+
		"SET search_path = "+engine.Quote(engine.Catalog(ctx, l.conn)+".main,stage.main")+";\n"+
		placeTexts.make()+valueTexts.make()+
		"CREATE TABLE stage.stage_measurements (form_id VARCHAR, place_no INTEGER, value_no INTEGER, missed VARCHAR[]);\n")
}

// dropCodedStage gives the staging table back, if it is there.
func (l *loader) dropCodedStage(ctx context.Context) error {
	return engine.Script(ctx, l.conn, "USE "+engine.Catalog(ctx, l.conn)+";\nDETACH DATABASE IF EXISTS stage;\n")
}

// sampleRows is from how many rows of a file, from all over it, the texts are
// learned before it is read. Texts that are not among them are learned afterwards.
const sampleRows = 100_000

// stageCoded stages the rows of a query with the columns of the measurements;
// read runs the statement that it is given, and sample one for a sample of the
// rows. The numbers are worked out of each row by itself: rows that pass a join
// come out in another order than they stand in the file.
func (l *loader) stageCoded(ctx context.Context, s *sheets.Sheet, rows string, read, sample func(query string) error) error {
	names := strings.Join(staged(s), ", ")
	if err := sample(fmt.Sprintf("CREATE OR REPLACE TEMP TABLE sampled AS SELECT * FROM (%s) t(%s) USING SAMPLE %d ROWS", rows, names, sampleRows)); err != nil {
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
	if err := read(fmt.Sprintf(`INSERT INTO stage_measurements
SELECT form_id, CASE WHEN NOT unknown THEN place_no END, CASE WHEN NOT unknown THEN value_no END, CASE WHEN unknown THEN [%s] END
FROM (SELECT *, place_no IS NULL OR value_no IS NULL AS unknown FROM (SELECT *, %s AS place_no, %s AS value_no FROM (%s) t(%s)))`,
		strings.Join(append(placeTexts.columns, valueTexts.columns...), ", "), place.number(), value.number(), rows, names)); err != nil {
		return err
	}
	if err := l.noteTexts(ctx, place, value); err != nil {
		return err
	}
	return l.learnMissed(ctx)
}

// A textCode gives each combination of learned texts a number, base for none at
// all: the texts of a column count from 1, and 0 is an empty cell.
type textCode struct {
	table textTable
	texts [][]string
	base  int64
}

// learnSampled learns the texts of the sample.
func (l *loader) learnSampled(ctx context.Context, t textTable) (c textCode, err error) {
	c = textCode{table: t, texts: make([][]string, len(t.columns))}
	if c.base, err = engine.Number(ctx, l.conn, "SELECT coalesce(max(no), 0) + 1 FROM "+t.name); err != nil {
		return c, err
	}
	for i, name := range t.columns {
		found, err := engine.Texts(ctx, l.conn, fmt.Sprintf("SELECT %[1]s FROM sampled WHERE %[1]s IS NOT NULL GROUP BY ALL ORDER BY count(*) DESC, %[1]s LIMIT %[2]d", name, t.most[i]))
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
func (c textCode) code(i int) string {
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
func (c textCode) number() string {
	number := "0"
	for i := range c.texts {
		number = fmt.Sprintf("(%s) * %d + %s", number, len(c.texts[i])+1, c.code(i))
	}
	return fmt.Sprintf("%s + %d", number, c.base)
}

// row is the texts of a number, for their table.
func (c textCode) row(no int64) []driver.Value {
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
func (l *loader) noteTexts(ctx context.Context, place, value textCode) error {
	found, err := engine.Texts(ctx, l.conn, fmt.Sprintf("SELECT place_no::VARCHAR, value_no::VARCHAR FROM stage_measurements WHERE place_no >= %d GROUP BY GROUPING SETS ((place_no), (value_no))", place.base))
	if err != nil {
		return err
	}
	for at, c := range []textCode{place, value} {
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

// learnMissed numbers the texts that were not among those of the sample.
func (l *loader) learnMissed(ctx context.Context) error {
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM stage_measurements WHERE place_no IS NULL")
	if n == 0 || err != nil {
		return err
	}
	if n > manyKeys {
		if err := l.exec(ctx, engine.OneThread); err != nil {
			return err
		}
		defer l.exec(context.WithoutCancel(ctx), "RESET threads")
	}
	if err := l.exec(ctx, "CREATE OR REPLACE TEMP TABLE missed AS SELECT DISTINCT missed FROM stage_measurements WHERE place_no IS NULL"); err != nil {
		return err
	}
	at, cols := map[string]string{}, []string{}
	for i, c := range append(placeTexts.columns, valueTexts.columns...) {
		at[c] = fmt.Sprintf("missed[%d]", i+1)
		cols = append(cols, at[c]+" AS "+c)
	}
	rows := "(SELECT " + strings.Join(cols, ", ") + " FROM missed)"
	cell := func(c string) string { return at[c] }
	// The numbers of a row are missing together; but asked for by place_no alone
	// the engine compares every row, which is five times as slow.
	return engine.Script(ctx, l.conn, placeTexts.learn(rows)+valueTexts.learn(rows)+fmt.Sprintf(`UPDATE stage_measurements s SET place_no = m.p, value_no = m.v
FROM (SELECT missed, p.no AS p, v.no AS v FROM missed JOIN place_texts p ON %s JOIN value_texts v ON %s) m
WHERE (place_no IS NULL OR value_no IS NULL) AND s.missed = m.missed;
`, placeTexts.is("p", cell), valueTexts.is("v", cell)))
}

//go:embed sql/load_good.sql
var goodSQL string

// goodMeasurements makes good_measurements, the rows with their cells read, of
// their numbers and what these mean. The texts that say why a row is kept out
// are made for the rows in question only.
func (l *loader) goodMeasurements(ctx context.Context, s *sheets.Sheet, books map[string]*wordbook) error {
	if err := l.together(ctx, l.rowsOf(s)); err != nil {
		return err
	}
	meaning := strings.NewReplacer("{place}", newStagedQuery(s, books, placeTexts.name, placeTexts.columns).withRules().meaning(),
		"{value}", newStagedQuery(s, books, valueTexts.name, valueTexts.columns).meaning())
	if err := engine.Script(ctx, l.conn, meaning.Replace(engine.Section(goodSQL, "measurements"))); err != nil {
		return err
	}
	bad, err := engine.Number(ctx, l.conn, engine.Section(goodSQL, "any"))
	if err != nil || bad == 0 {
		return err
	}
	why := newStagedQuery(s, books, "stage_bad", staged(s)).withRules().rows("s.ord")
	return engine.Script(ctx, l.conn, engine.Section(goodSQL, "bad")+"INSERT INTO kept_measurements SELECT ord, why FROM ("+why+");\nDROP TABLE stage_bad;\n")
}

// together makes the view staged of the staged measurements, and puts the rows of
// each form together where they are not, as in a sheet sorted by point: a hundred
// forms tell.
func (l *loader) together(ctx context.Context, rows int64) error {
	first, err := l.firstRow(ctx, "stage_measurements")
	if err != nil {
		return err
	}
	if err := engine.Script(ctx, l.conn, strings.ReplaceAll(engine.Section(goodSQL, "as read"), "{first}", fmt.Sprint(first))); err != nil {
		return err
	}
	var n, spread int64
	q := strings.ReplaceAll(engine.Section(goodSQL, "scattered"), "{step}", fmt.Sprint(1+rows/100))
	if err := l.conn.QueryRowContext(ctx, q).Scan(&n, &spread); err != nil || spread <= 2*n {
		return err
	}
	return l.putTogether(ctx)
}

func (l *loader) putTogether(ctx context.Context) error {
	if err := engine.Script(ctx, l.conn, engine.Section(goodSQL, "together")); err != nil {
		return err
	}
	return l.milestone(ctx)
}
