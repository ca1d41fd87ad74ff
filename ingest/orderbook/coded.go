package orderbook

import (
	"context"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/ingest/sheets"
)

// The measurements are by far the longest sheet, and its rows say few different
// things: a place of the form (side, clothing, point and height as written), and
// a value with its unit. A row is staged as its form and the numbers of its place
// and its value, and each different text is looked at once.

// A textTable holds the different texts of some columns, numbered from 1.
type textTable struct {
	name    string
	columns []string
}

var (
	placeTexts = textTable{"place_texts", []string{"side", "clothing", "point", "height", "height_u"}}
	valueTexts = textTable{"value_texts", []string{"value", "value_u"}}
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
	return fmt.Sprintf(`INSERT INTO %[1]s SELECT (SELECT count(*) FROM %[1]s) + row_number() OVER (), *
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

// makeCodedStage makes the empty staging table of the measurements. missed are
// the texts of a row that had no number when it was read, in the order of
// placeTexts and valueTexts.
func (l *loader) makeCodedStage(ctx context.Context) error {
	return l.script(ctx, placeTexts.make()+valueTexts.make()+
		"CREATE OR REPLACE TEMP TABLE stage_measurements (form_id VARCHAR, place_no INTEGER, value_no INTEGER, missed VARCHAR[]);\n")
}

// firstRows is from how many rows of a file the texts are learned before it is
// read. Texts that first stand further down are learned afterwards.
const firstRows = 100_000

// stageCoded stages the rows of a query with the columns of the measurements;
// read runs the statement that it is given.
func (l *loader) stageCoded(ctx context.Context, s *sheets.Sheet, rows string, read func(query string) error) error {
	names := strings.Join(staged(s), ", ")
	first := fmt.Sprintf("CREATE OR REPLACE TEMP TABLE first_rows AS SELECT * FROM (%s LIMIT %d) t(%s)", rows, firstRows, names)
	if err := read(first); err != nil {
		return err
	}
	if err := l.script(ctx, placeTexts.learn("first_rows")+valueTexts.learn("first_rows")+"DROP TABLE first_rows;\n"); err != nil {
		return err
	}
	// The engine can't know how many rows a file has, and would hash them instead
	// of the texts.
	if err := l.exec(ctx, "SET disabled_optimizers = 'build_side_probe_side'"); err != nil {
		return err
	}
	cell := func(c string) string { return "s." + c }
	err := read(fmt.Sprintf(`INSERT INTO stage_measurements
SELECT s.form_id, p.no, v.no, CASE WHEN p.no IS NULL OR v.no IS NULL THEN [s.%s] END
FROM (%s) s(%s) LEFT JOIN place_texts p ON %s LEFT JOIN value_texts v ON %s`,
		strings.Join(append(placeTexts.columns, valueTexts.columns...), ", s."), rows, names, placeTexts.is("p", cell), valueTexts.is("v", cell)))
	if err := l.exec(context.WithoutCancel(ctx), "RESET disabled_optimizers"); err != nil {
		return err
	}
	if err != nil {
		return err
	}
	return l.learnMissed(ctx)
}

// learnMissed numbers the texts that were not among those of the first rows.
func (l *loader) learnMissed(ctx context.Context) error {
	const some = "CREATE OR REPLACE TEMP TABLE missed AS SELECT DISTINCT missed FROM stage_measurements WHERE place_no IS NULL OR value_no IS NULL"
	if err := l.milestone(ctx); err != nil {
		return err
	}
	if err := l.exec(ctx, some); err != nil {
		return err
	}
	n, err := l.number(ctx, "SELECT count(*) FROM missed")
	if n == 0 || err != nil {
		return err
	}
	at, cols := map[string]string{}, []string{}
	for i, c := range append(placeTexts.columns, valueTexts.columns...) {
		at[c] = fmt.Sprintf("missed[%d]", i+1)
		cols = append(cols, at[c]+" AS "+c)
	}
	rows := "(SELECT " + strings.Join(cols, ", ") + " FROM missed)"
	cell := func(c string) string { return at[c] }
	return l.script(ctx, placeTexts.learn(rows)+valueTexts.learn(rows)+fmt.Sprintf(`UPDATE stage_measurements s SET place_no = m.p, value_no = m.v
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
	first, err := l.firstRow(ctx, s)
	if err != nil {
		return err
	}
	meaning := strings.NewReplacer("{first}", fmt.Sprint(first),
		"{place}", newStagedQuery(s, books, placeTexts.name, placeTexts.columns).withRules().meaning(),
		"{value}", newStagedQuery(s, books, valueTexts.name, valueTexts.columns).meaning())
	if err := l.script(ctx, meaning.Replace(section(goodSQL, "measurements"))); err != nil {
		return err
	}
	bad, err := l.number(ctx, "SELECT count(*) FROM coded WHERE bad")
	if err != nil || bad == 0 {
		return err
	}
	why := newStagedQuery(s, books, "stage_bad", staged(s)).withRules().rows("s.ord")
	return l.script(ctx, section(goodSQL, "bad")+"INSERT INTO kept_measurements SELECT ord, why FROM ("+why+");\nDROP TABLE stage_bad;\n")
}
