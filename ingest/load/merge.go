package load

import (
	"context"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/sheets"
)

var (
	//go:embed sql/load_checks.sql
	checksSQL string
	//go:embed sql/load_merge.sql
	mergeSQL string
	//go:embed sql/load_count.sql
	countSQL string
)

// loadSheets stages, checks and merges every sheet of the load.
func (l *loader) loadSheets(ctx context.Context) error {
	var todo []*sheets.Sheet
	for _, s := range sheets.Catalogue {
		if len(l.fresh(s.Name)) > 0 {
			todo = append(todo, s)
		}
	}
	if err := l.exec(ctx, "CREATE OR REPLACE TEMP TABLE touched (form_id VARCHAR)"); err != nil {
		return err
	}
	for i, s := range todo { // a sheet whose keys another one names comes before it
		at := 0.15 + 0.7*float64(i)/float64(len(todo))
		l.opt.progress("reading the sheet "+s.Name, at)
		if err := l.stageSheet(ctx, s); err != nil {
			return err
		}
		l.opt.progress("taking the sheet "+s.Name, at+0.35/float64(len(todo)))
		if err := l.takeSheet(ctx, s); err != nil {
			return fmt.Errorf("taking the sheet %s: %w", s.Name, err)
		}
		if err := l.dropStage(ctx, s); err != nil {
			return err
		}
	}
	l.step("taken")
	return nil
}

// milestone commits to the working copy, which nobody sees before it is
// published whole: rows of an open transaction are read by one thread only.
func (l *loader) milestone(ctx context.Context) error {
	if err := l.exec(ctx, "COMMIT"); err != nil {
		return err
	}
	return l.exec(ctx, "BEGIN TRANSACTION")
}

// touch notes the forms whose evidence a merge changes: their numbers, or the
// sex or channel of their order.
func (l *loader) touch(ctx context.Context, s *sheets.Sheet) error {
	switch s.Name {
	case "measurements", "forms":
		return l.exec(ctx, "INSERT INTO touched SELECT form_id FROM changed")
	case "orders":
		return l.exec(ctx, "INSERT INTO touched SELECT form_id FROM forms SEMI JOIN changed USING (order_id)")
	}
	return nil
}

func (l *loader) stageSheet(ctx context.Context, s *sheets.Sheet) error {
	if err := l.exec(ctx, "SET preserve_insertion_order = true"); err != nil {
		return err
	}
	if err := l.makeStage(ctx, s); err != nil {
		return err
	}
	lo := int64(0)
	for _, p := range l.fresh(s.Name) {
		if err := l.stagePart(ctx, p, lo); err != nil {
			return err
		}
		lo = p.hi
	}
	l.step("staged")
	if err := l.milestone(ctx); err != nil {
		return err
	}
	if s.Name != "measurements" { // more of these is what takes more memory
		if err := l.giveMemory(ctx, l.rowsOf(s)); err != nil {
			return err
		}
	}
	// From here on rows carry their place, so none needs to keep it by order.
	return l.exec(ctx, "SET preserve_insertion_order = false")
}

// giveMemory lets the engine have the memory that rows of a sheet need, and no
// less than it has.
func (l *loader) giveMemory(ctx context.Context, rows int64) error {
	if rows <= l.most || l.report.Book == "" { // a book in memory has no limit
		return nil
	}
	l.most = rows
	return l.exec(ctx, engine.LimitMemory(orderbook.WriteMemory, rows))
}

// dropStage gives the room back that a sheet took, unless some of its rows were
// kept out and must be told.
func (l *loader) dropStage(ctx context.Context, s *sheets.Sheet) error {
	for _, p := range l.fresh(s.Name) {
		if p.count.KeptOut > 0 {
			return nil
		}
	}
	l.dropped = append(l.dropped, s.Name)
	if s.Name == "measurements" {
		return l.dropCodedStage(ctx)
	}
	return l.runSteps(ctx, s, "DROP VIEW ok_{s};\nDROP TABLE good_{s};\nDROP TABLE stage_{s};\n")
}

func (l *loader) takeSheet(ctx context.Context, s *sheets.Sheet) error {
	books, err := l.readWords(ctx, s)
	if err != nil {
		return err
	}
	if err := l.good(ctx, s, books); err != nil {
		return err
	}
	if err := l.fillLacking(ctx, s); err != nil {
		return err
	}
	if err := l.milestone(ctx); err != nil {
		return err
	}
	keys, err := l.compare(ctx, s)
	if err != nil {
		return err
	}
	insert, counted := engine.Section(mergeSQL, "insert"), countSQL
	if same, err := engine.Number(ctx, l.conn, l.fill(s, "SELECT (SELECT count(*) FROM "+keys+") - (SELECT count(*) FROM changed SEMI JOIN "+keys+" USING ({key}))")); err != nil {
		return err
	} else if same == 0 { // all rows are new
		insert = strings.Replace(insert, someChanged, "", 1)
		counted = strings.Replace(counted, someChanged, "", 1)
	}
	if err := l.runSteps(ctx, s, engine.Section(mergeSQL, "rows")); err != nil {
		return err
	}
	if stay, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM stay"); err != nil {
		return err
	} else if stay == 0 {
		insert = strings.Replace(insert, butStay, "", 1)
	}
	if err := l.runSteps(ctx, s, insert); err != nil {
		return err
	}
	if s.Name == "measurements" {
		if err := l.runSteps(ctx, s, engine.Section(mergeSQL, "numbers")); err != nil {
			return err
		}
	}
	if err := l.touch(ctx, s); err != nil {
		return err
	}
	if err := l.count(ctx, s, counted); err != nil {
		return err
	}
	return l.noteMissing(ctx, s)
}

// compare keeps out what can't be taken and makes the table changed. It says which
// table holds the keys of the load. Keys are grouped here: where there are many,
// by one thread (see engine.OneThread).
func (l *loader) compare(ctx context.Context, s *sheets.Sheet) (keys string, err error) {
	defer l.exec(context.WithoutCancel(ctx), "RESET threads")
	sets, keys := "forms", "seen" // seeForms knows how many forms there are
	if s.Name != "measurements" {
		sets, keys = "sets", "sets"
		if l.rowsOf(s) > manyKeys {
			if err := l.exec(ctx, engine.OneThread); err != nil {
				return "", err
			}
		}
	}
	if err := l.keepOut(ctx, s); err != nil {
		return "", err
	}
	if s.Name == "measurements" {
		err = l.carryNumbers(ctx, s)
	} else {
		err = l.carryEvents(ctx, s)
	}
	if err != nil {
		return "", err
	}
	if err := l.runSteps(ctx, s, engine.Section(mergeSQL, sets)); err != nil || s.Name != "measurements" {
		return keys, err
	}
	return keys, l.exec(ctx, emptied)
}

// manyKeys is from how many rows on the keys of a sheet, grouped, may not fit in
// orderbook.WriteMemory. A variable so that a test need not load so many.
var manyKeys int64 = 1_500_000

// rowsOf is how many rows of a sheet are staged.
func (l *loader) rowsOf(s *sheets.Sheet) (n int64) {
	for _, p := range l.fresh(s.Name) {
		n = max(n, p.hi)
	}
	return n
}

// someChanged is how a query leaves out the rows that the book has already.
const someChanged = " SEMI JOIN changed USING ({key})"

// butStay is how a query leaves out the rows of the load that stand in the book
// as they are.
const butStay = " WHERE ord NOT IN (SELECT ord FROM stay)"

// runSteps runs the statements of an SQL file for a sheet.
func (l *loader) runSteps(ctx context.Context, s *sheets.Sheet, text string) error {
	return engine.Script(ctx, l.conn, l.fill(s, text))
}

// fill writes a sheet's names into an SQL text: {s} the sheet, {key} its key,
// {content} the columns a row fills, {load} the number of the load; {table} is
// where the book keeps its rows, {rows} are those of the load and {ok} those of
// them that are taken, as the book keeps them; {row} is the hash of a row.
func (l *loader) fill(s *sheets.Sheet, query string) string {
	will := "ok_" + s.Name // what will hold of the keys of the load
	table, rows, ok, row := s.Name, "good_"+s.Name, "ok_"+s.Name, "hash("+strings.Join(content(s), ", ")+")"
	if s.Name == "measurements" {
		table, rows, ok, row = "measured", "coded", "ok_coded", "hash(form_id, place_id, reading_id)"
		will = "will_coded"
	}
	return strings.NewReplacer("{s}", s.Name, "{key}", s.Key[0], "{content}", strings.Join(content(s), ", "),
		"{load}", fmt.Sprint(l.loadID), "{table}", table, "{rows}", rows, "{ok}", ok, "{row}", row, "{will}", will).Replace(query)
}

// count works out what became of the rows of each part of a sheet.
func (l *loader) count(ctx context.Context, s *sheets.Sheet, query string) error {
	query = l.fill(s, query)
	for _, p := range l.fresh(s.Name) {
		row := l.conn.QueryRowContext(ctx, strings.ReplaceAll(query, "{in}", fmt.Sprintf("BETWEEN %d AND %d", p.lo, p.hi-1)))
		c := p.count
		var there, notTaken int64
		if err := row.Scan(&there, &notTaken, &c.Taken, &c.Superseded); err != nil {
			return err
		}
		broken := int64(0)
		for _, why := range p.why {
			if why != "" {
				broken++
			}
		}
		c.Read = there + broken
		c.KeptOut = notTaken + broken
		c.Unchanged = c.Read - c.KeptOut - c.Taken
	}
	return nil
}
