package load

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"strings"

	"lastroom/ingest/cells"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

//go:embed sql/merge.sql
var mergeSQL string

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
	if err := l.giveMemory(ctx, 0); err != nil {
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
		return l.dropNumberedStage(ctx)
	}
	return l.runSteps(ctx, s, engine.Section(stageSQL, "drop"))
}

func (l *loader) takeSheet(ctx context.Context, s *sheets.Sheet) error {
	books, err := l.readDictionaries(ctx, s)
	if err != nil {
		return err
	}
	if err := l.validate(ctx, s, books); err != nil {
		return err
	}
	there, err := l.bookHas(ctx, s)
	if err != nil {
		return err
	}
	if there {
		if err := l.fillLacking(ctx, s); err != nil {
			return err
		}
	}
	if err := l.commitMany(ctx, s); err != nil {
		return err
	}
	if there {
		err = l.merge(ctx, s)
	} else {
		err = l.addAll(ctx, s)
	}
	if err != nil {
		return err
	}
	return l.missing(ctx, s)
}

// addAll takes the rows of a sheet of which the book has none: there is nothing to
// compare them with, and nothing ends.
func (l *loader) addAll(ctx context.Context, s *sheets.Sheet) error {
	err := l.rejectConflicts(ctx, s)
	if err = errors.Join(err, l.allThreads(ctx)); err != nil {
		return err
	}
	insert := strings.Replace(strings.Replace(engine.Section(mergeSQL, "insert"), someChanged, "", 1), butUnchanged, "", 1)
	if err := l.runSteps(ctx, s, insert); err != nil {
		return err
	}
	taken := "accepted_" + s.Name
	if s.Name == "measurements" {
		taken = "summaries"
		if err := l.runSteps(ctx, s, strings.Replace(engine.Section(mergeSQL, "numbers"), someChanged, "", 1)); err != nil {
			return err
		}
	}
	if err := l.touch(ctx, s, taken); err != nil {
		return err
	}
	return l.count(ctx, s, engine.Section(mergeSQL, "count new"))
}

// merge takes the rows of a sheet that are new or differ from those in the book, and
// ends those of the book that they replace.
func (l *loader) merge(ctx context.Context, s *sheets.Sheet) error {
	keys, err := l.compare(ctx, s)
	if err != nil {
		return err
	}
	var same, known int64 // keys of the load that stand in the book as they are, and otherwise
	if err := l.conn.QueryRowContext(ctx, l.fill(s, engine.Section(mergeSQL, "new keys", "{keys}", keys))).Scan(&same, &known); err != nil {
		return err
	}
	insert, counted, rows := engine.Section(mergeSQL, "insert"), engine.Section(mergeSQL, "count"), "rows"
	if same == 0 { // all rows are new
		insert = strings.Replace(insert, someChanged, "", 1)
		counted = strings.Replace(counted, someChanged, "", 1)
	}
	if known == 0 {
		rows = "rows of new keys"
	}
	if err := l.runSteps(ctx, s, engine.Section(mergeSQL, rows)); err != nil {
		return err
	}
	if stay, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM unchanged"); err != nil {
		return err
	} else if stay == 0 {
		insert = strings.Replace(insert, butUnchanged, "", 1)
	}
	if err := l.runSteps(ctx, s, insert); err != nil {
		return err
	}
	if s.Name == "measurements" {
		if err := l.runSteps(ctx, s, engine.Section(mergeSQL, "numbers ended")+engine.Section(mergeSQL, "numbers")); err != nil {
			return err
		}
	}
	if err := l.touch(ctx, s, "changed"); err != nil {
		return err
	}
	return l.count(ctx, s, counted)
}

// touch notes the forms whose evidence the taken rows change.
func (l *loader) touch(ctx context.Context, s *sheets.Sheet, taken string) error {
	switch s.Name {
	case "measurements", "forms":
		return l.exec(ctx, "INSERT INTO touched SELECT form_id FROM "+taken)
	case "orders":
		return l.exec(ctx, "INSERT INTO touched SELECT form_id FROM forms SEMI JOIN "+taken+" USING (order_id)")
	}
	return nil
}

// compare keeps out what can't be taken and makes the table changed. It says which
// table holds the keys of the load.
func (l *loader) compare(ctx context.Context, s *sheets.Sheet) (keys string, err error) {
	defer l.allThreads(ctx)
	if err := l.rejectConflicts(ctx, s); err != nil {
		return "", err
	}
	if s.Name != "measurements" {
		if err := l.carryEvents(ctx, s); err != nil {
			return "", err
		}
		return "sets", l.runSteps(ctx, s, engine.Section(mergeSQL, "sets"))
	}
	if err := l.carryNumbers(ctx, s); err != nil {
		return "", err
	}
	if err := l.runSteps(ctx, s, engine.Section(mergeSQL, "forms")); err != nil {
		return "", err
	}
	return "summaries", l.exec(ctx, engine.Section(carrySQL, "emptied"))
}

// someChanged is how a query leaves out the rows that the book has already.
const someChanged = " SEMI JOIN changed USING ({key})"

// butUnchanged is how a query leaves out the rows of the load that stand in the book
// as they are.
const butUnchanged = " WHERE ord NOT IN (SELECT ord FROM unchanged)"

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
		if l.keptOut += c.KeptOut; l.keptOut > mostKeptOut && c.KeptOut > max(mostKeptOut/10, c.Read/3) {
			return l.wrongSheet(ctx, p)
		}
	}
	return nil
}

// mostKeptOut is how many rows of all sheets can be kept out and told one by one, where
// it is many of a sheet, and a third of it.
const mostKeptOut = 50_000

// wrongSheet is the error of a sheet of which too many rows can't be taken, with the
// first reason: nobody mends so many rows, and telling each would take more memory than
// loading them.
func (l *loader) wrongSheet(ctx context.Context, p *part) error {
	first := engine.Section(reportSQL, "rejected", "{lo}", fmt.Sprint(p.lo), "{hi}", fmt.Sprint(p.hi-1)) + " LIMIT 1"
	rows, err := engine.Texts(ctx, l.conn, l.fill(p.sheet, first))
	if err != nil {
		return err
	}
	why := "its lines can't be split into cells"
	if len(rows) > 0 {
		why = strings.NewReplacer(cells.NextProblem, "; ", cells.ThenReason, " ").Replace(rows[0][1])
	}
	return &sheets.FileError{File: p.table.Name, Reason: fmt.Sprintf("%d of its %d rows can't be taken, the first because %s; so many are not told one by one: see whether it is the sheet %s and its columns hold what they are named",
		p.count.KeptOut, p.count.Read, why, p.sheet.Name)}
}
