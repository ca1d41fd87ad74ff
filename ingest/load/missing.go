package load

import (
	"context"
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

//go:embed sql/missing.sql
var missingSQL string

// exported are the sheets of which a full export is looked through for rows that
// it does not hold any more, and the noun for one of them.
var exported = map[string][2]string{"orders": {"order", "orders"}, "outcomes": {"report of fit", "reports of fit"}}

// readAgain has files read that are in the book already where what they hold
// must be known all the same: with Options.WholeExport, or where another file of
// their sheet is a newer export, which is looked through for missing rows; and
// all numbers of the forms with Options.WholeForms.
func (l *loader) readAgain() {
	for name := range exported {
		if l.opt.WholeExport || l.newerExport(name) {
			l.forget(name)
		}
	}
	if l.opt.WholeForms {
		l.forget("measurements")
	}
}

func (l *loader) forget(sheet string) {
	for _, p := range l.parts {
		if p.sheet.Name == sheet && p.before != nil {
			p.before = nil
			p.count.Read, p.count.Unchanged, p.count.AlreadyIn = 0, 0, false
		}
	}
}

// newerExport reports whether some file of a sheet is in the ledger by its name
// with another content.
func (l *loader) newerExport(sheet string) bool {
	for _, p := range l.fresh(sheet) {
		for _, line := range l.ledger {
			for _, f := range line.Files {
				if f.Sheet == sheet && f.File == p.count.File && f.SHA256 != p.table.SHA256 {
					return true
				}
			}
		}
	}
	return false
}

// missing tells of rows of the book that the files of a sheet do not hold any
// more. They stay, since a sheet may hold a part; with Options.WholeExport the
// sheets are all there is, and then such rows end.
func (l *loader) missing(ctx context.Context, s *sheets.Sheet) error {
	nouns, ok := exported[s.Name]
	if !ok || !l.opt.WholeExport && !l.newerExport(s.Name) {
		return nil
	}
	if err := l.runSteps(ctx, s, engine.Section(missingSQL, "here "+s.Name)+engine.Section(missingSQL, "gone "+s.Name)); err != nil {
		return err
	}
	if !l.opt.WholeExport {
		var files []string
		for _, p := range l.parts {
			if p.sheet == s {
				files = append(files, engine.Quote(p.count.File))
			}
		}
		slices.Sort(files)
		if err := l.runSteps(ctx, s, engine.Section(missingSQL, "of these files", "{files}", strings.Join(files, ", "))); err != nil {
			return err
		}
	}
	var n int64
	var some string
	if err := l.conn.QueryRowContext(ctx, engine.Section(missingSQL, "count")).Scan(&n, &some); err != nil || n == 0 {
		return err
	}
	if n > 3 {
		some += ", …"
	}
	what := fmt.Sprintf("%d %s of the book %s not in this export (%s)", n, plural(int(n), nouns[0], nouns[1]), plural(int(n), "is", "are"), some)
	if !l.opt.WholeExport {
		l.report.Notes = append(l.report.Notes, what+"; the book keeps what it has. --whole-export ends "+plural(int(n), "it", "them")+", if the sheets hold all there is")
		return nil
	}
	if unread, err := l.unread(ctx, s); unread > 0 || err != nil {
		l.report.Notes = append(l.report.Notes, fmt.Sprintf("%s; none of them ends, since they may stand on the %d %s whose order can't be read", what, unread, plural(int(unread), "row", "rows")))
		return err
	}
	l.report.Notes = append(l.report.Notes, what+" and "+plural(int(n), "ends", "end")+"; the history keeps "+plural(int(n), "it", "them")+", and a sheet that holds "+plural(int(n), "it", "them")+" brings "+plural(int(n), "it", "them")+" back")
	l.report.Ended += n
	return l.runSteps(ctx, s, engine.Section(missingSQL, "end"))
}

// unread counts the rows of a sheet of which not even the order is known.
func (l *loader) unread(ctx context.Context, s *sheets.Sheet) (n int64, err error) {
	n, err = engine.Number(ctx, l.conn, l.fill(s, "SELECT count(*) FROM valid_{s} WHERE {key} IS NULL"))
	for _, p := range l.fresh(s.Name) {
		for _, why := range p.why {
			if why != "" {
				n++
			}
		}
	}
	return n, err
}
