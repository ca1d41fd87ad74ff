package load

import (
	"context"
	_ "embed"
	"fmt"
	"strings"

	"lastroom/ingest/cells"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// A sheet replaces only what it speaks of. What it does not speak of is carried
// over: put beside the rows of the load under a place of its own, so that a key
// is compared, and replaced, with all that will hold of it.
//
//   - a number replaces the number of that place of the form; the others of the
//     form stay (unless Options.WholeForms);
//   - reports of fit and call-backs are events: those of one day replace those
//     of that day, and one with its day one of the same kind without; a report
//     with a number of its own (outcome_id) replaces that report;
//   - a column that a sheet lacks leaves what the book has: of an event, what it has of
//     the one that is replaced.
const carriedOrd = "1152921504606846976" // beyond any row of a load

//go:embed sql/carry.sql
var carrySQL string

// events are the day columns of sheets whose rows are events, and what says
// which kind of event a row is.
var events = map[string][2]string{"outcomes": {"reported_on", "result"}, "callbacks": {"called_on", "fault"}}

// bookHas reports whether the book has any row of a sheet.
func (l *loader) bookHas(ctx context.Context, s *sheets.Sheet) (bool, error) {
	n, err := engine.Number(ctx, l.conn, l.fill(s, "SELECT count(*) FROM (SELECT 1 FROM {table} LIMIT 1)"))
	return n > 0, err
}

// fillLacking puts what the book has into columns that a part lacks.
func (l *loader) fillLacking(ctx context.Context, s *sheets.Sheet) error {
	_, isEvent := events[s.Name]
	if s.Set && !isEvent {
		return nil
	}
	section := "lacking"
	if isEvent {
		section = "lacking of events"
	}
	for _, p := range l.fresh(s.Name) {
		var sets []string
		for i, c := range s.Columns {
			if p.layout.Cells[i].At >= 0 || c.IsUnit() {
				continue
			}
			for _, name := range cells.Columns(c) {
				sets = append(sets, name+" = b."+name)
			}
		}
		if len(sets) == 0 {
			continue
		}
		step := engine.Section(carrySQL, section, "{sets}", strings.Join(sets, ", "), "{lo}", fmt.Sprint(p.lo), "{hi}", fmt.Sprint(p.hi-1))
		if err := l.runSteps(ctx, s, ofEvents(s, step)); err != nil {
			return err
		}
	}
	return nil
}

// carryEvents carries over the events of other days.
func (l *loader) carryEvents(ctx context.Context, s *sheets.Sheet) error {
	if _, ok := events[s.Name]; !ok {
		return nil
	}
	return l.runSteps(ctx, s, ofEvents(s, engine.Section(carrySQL, "events")))
}

// ofEvents fills in what tells the events o of a load and b of the book apart. Two that
// both have numbers are one where these agree, and only there.
func ofEvents(s *sheets.Sheet, step string) string {
	e := events[s.Name]
	same, two := "FALSE", "FALSE"
	if _, ok := s.Column("outcome_id"); ok {
		same, two = "(o.outcome_id = b.outcome_id)", "(o.outcome_id IS NOT NULL AND b.outcome_id IS NOT NULL)"
	}
	return strings.NewReplacer("{day}", e[0], "{kind}", e[1], "{same number}", same, "{two numbers}", two).Replace(step)
}

// carryNumbers carries over the numbers of forms whose places the load does not
// speak of, and sums these forms up again. A row with an empty value speaks of
// its place: it takes the number back.
func (l *loader) carryNumbers(ctx context.Context, s *sheets.Sheet) error {
	if err := l.runSteps(ctx, s, engine.Section(carrySQL, "tables")); err != nil {
		return err
	}
	if l.opt.WholeForms {
		return nil
	}
	if err := l.exec(ctx, engine.Section(carrySQL, "partial")); err != nil {
		return err
	}
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM partial_forms")
	if n == 0 || err != nil {
		return err
	}
	if err := l.runSteps(ctx, s, engine.Section(carrySQL, "numbers")); err != nil {
		return err
	}
	rows, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM combined")
	if err != nil {
		return err
	}
	if err := l.summarizeInParts(ctx, rows, "combined"); err != nil {
		return err
	}
	return l.runSteps(ctx, s, engine.Section(carrySQL, "first"))
}
