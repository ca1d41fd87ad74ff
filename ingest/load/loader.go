package load

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lastroom/ingest/audit"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/cells"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/layout"
	"lastroom/ingest/rejects"
	"lastroom/ingest/sheets"
)

// A loader takes one load through its steps (see the package), on one connection.
type loader struct {
	conn   *sql.Conn
	dir    string // scratch
	opt    Options
	loadID int64
	ledger []bookfile.LedgerLine
	report *Report

	parts   []*part
	mapping *layout.Mapping
	synced  map[string]chan error // copies of files that are being made durable
	all     bool                  // every form is to be judged again
	dropped []string              // sheets of which every row was taken, or was there
	most    int64                 // rows of a sheet that the engine has memory for
	keptOut int64                 // rows of all sheets so far
	careful bool                  // the engine is kept to one thread
}

// A part is one sheet of one file.
type part struct {
	table  *sheets.Table
	sheet  *sheets.Sheet
	layout sheets.Layout
	path   string // of the file that came
	only   string // of a file of several sheets: the text of its sheet column
	count  *SheetCount
	before *bookfile.LedgerFile // the part is in the book already

	lo, hi int64          // its rows in the staging table: lo ≤ rowid < hi
	broken map[int64]bool // where records start that could not be split
	why    map[int64]string

	mapped bool            // it was made out of a shop's own layout
	cut    []layout.Broken // of it: what lines that can't be split would be
}

// from is where rows of the part come from, for those that are kept out.
func (p *part) from() rejects.Part {
	return rejects.Part{Sheet: p.sheet, Table: p.table, Layout: p.layout}
}

func newLoader(conn *sql.Conn, dir string, opt Options) *loader {
	if opt.limits == nil {
		opt.limits = &usual
	}
	return &loader{conn: conn, dir: dir, opt: opt, synced: map[string]chan error{}, report: &Report{
		Sheets: []SheetCount{}, KeptOut: []sheets.Reject{}, Ignored: []string{},
	}}
}

func (l *loader) step(name string) {
	if l.opt.AtStep != nil {
		l.opt.AtStep(name)
	}
}

// run does everything up to the commit. It returns the ledger's account of the
// files; nil when the book is not changed.
func (l *loader) run(ctx context.Context) ([]bookfile.LedgerFile, error) {
	err := l.intake(ctx)
	if err == nil && l.memory() > l.opt.limits.oneThread { // with which the book was opened
		err = l.exec(ctx, engine.AllThreads)
	}
	if err != nil {
		return nil, err
	}
	l.step("intake")
	changed, err := l.settle(ctx)
	if err != nil {
		return nil, err
	}
	fresh := l.fresh("")
	if len(fresh) == 0 && !changed {
		l.fillReport()
		return nil, nil
	}
	if err := l.loadSheets(ctx); err != nil {
		return nil, err
	}
	if err := l.judgeTouched(ctx); err != nil {
		return nil, err
	}
	if err := l.giveMemory(ctx, 0); err != nil { // the judging had its own
		return nil, err
	}
	if err := l.reportRejected(ctx); err != nil {
		return nil, err
	}
	if err := l.dropNumberedStage(ctx); err != nil {
		return nil, err
	}
	if l.report.Book != "" { // a book in memory is no one's to check
		if err := l.exec(ctx, engine.LimitMemory(bookfile.WriteMemory, l.most)); err != nil { // from here on the whole book is asked
			return nil, err
		}
		if l.report.Gist, err = l.gist(ctx); err != nil {
			return nil, err
		}
	}
	l.fillReport()
	if !l.report.Loaded() && !changed {
		return nil, fmt.Errorf("%w: no row of the sheets could be taken", ErrNothing)
	}
	return l.account(), nil
}

// judgeTouched has the numbers of the forms judged that the load touched.
func (l *loader) judgeTouched(ctx context.Context) error {
	if l.all {
		if err := l.exec(ctx, "CREATE OR REPLACE TEMP TABLE touched AS SELECT form_id FROM form_numbers"); err != nil {
			return err
		}
	}
	if l.opt.JudgeLater {
		return l.judgeLater(ctx)
	}
	l.opt.progress("judging the numbers", 0.7)
	if err := audit.Touched(ctx, l.conn, func(done, total int) {
		l.opt.progress("judging the numbers", 0.7+0.2*float64(done)/float64(total))
	}); err != nil {
		return fmt.Errorf("judging the numbers: %w", err)
	}
	l.step("judged")
	return nil
}

// judgeLater drops the evidence of the touched forms, which is of their former
// numbers, and notes how many wait for an audit.
func (l *loader) judgeLater(ctx context.Context) (err error) {
	if err := l.exec(ctx, "DELETE FROM form_evidence WHERE form_id IN (SELECT form_id FROM touched)"); err != nil {
		return err
	}
	n, err := engine.Number(ctx, l.conn, "SELECT count(*) FROM form_numbers SEMI JOIN touched USING (form_id)")
	if n == 0 || err != nil || l.report.Book == "" || l.opt.DryRun {
		return err
	}
	l.report.Unjudged = n
	l.report.Notes = append(l.report.Notes, fmt.Sprintf("the numbers of %d %s are not judged yet: lastroom audit --book %s",
		n, plural(int(n), "form", "forms"), l.report.Book))
	return nil
}

// fresh are the parts that have to be read, of one sheet or of all.
func (l *loader) fresh(sheet string) (parts []*part) {
	for _, p := range l.parts {
		if p.before == nil && (sheet == "" || p.sheet.Name == sheet) {
			parts = append(parts, p)
		}
	}
	return parts
}

func (l *loader) fillReport() {
	l.report.Sheets = l.report.Sheets[:0]
	for _, p := range l.parts {
		l.report.Sheets = append(l.report.Sheets, *p.count)
	}
}

// account is what the ledger keeps of the parts that were read.
func (l *loader) account() []bookfile.LedgerFile {
	files := []bookfile.LedgerFile{}
	for _, p := range l.fresh("") {
		c := p.count
		files = append(files, bookfile.LedgerFile{Sheet: c.Sheet, File: c.File, SHA256: p.table.SHA256, Bytes: p.table.Bytes,
			Read: c.Read, Taken: c.Taken, Unchanged: c.Unchanged, Superseded: c.Superseded, KeptOut: c.KeptOut,
			MapSHA256: l.mapHash(p)})
	}
	return files
}

// syncKept makes the copy of a file durable while the load goes on.
func (l *loader) syncKept(path string) {
	done := make(chan error, 1)
	l.synced[path] = done
	go func() { done <- durable.Sync(path) }()
}

// keepOriginals moves the copies of the files that came to the book's folder,
// named by their hash.
func (l *loader) keepOriginals(f bookfile.Files) error {
	for _, p := range l.fresh("") {
		to := filepath.Join(f.Sheets(), p.table.SHA256+strings.ToLower(filepath.Ext(p.path)))
		if _, err := os.Stat(to); err == nil {
			continue
		}
		err := <-l.synced[p.table.Kept]
		if err == nil {
			err = os.Rename(p.table.Kept, to)
		}
		if err != nil {
			return fmt.Errorf("can't keep the sheet %s: %w", p.count.File, err)
		}
	}
	if l.mapping != nil {
		to := filepath.Join(f.Sheets(), l.mapping.SHA256+".yaml")
		err := durable.Replace(to, f.Work(), func(w *os.File) error {
			_, err := w.Write(l.mapping.Text)
			return err
		})
		if err != nil {
			return fmt.Errorf("can't keep the mapping file: %w", err)
		}
	}
	return durable.SyncFolder(f.Sheets())
}

// runSteps runs the statements of an SQL file for a sheet.
func (l *loader) runSteps(ctx context.Context, s *sheets.Sheet, text string) error {
	return engine.Script(ctx, l.conn, l.fill(s, text))
}

// fill writes a sheet's names into an SQL text: {s} the sheet, {key} its key,
// {content} the columns a row fills, {load} the number of the load; {table} is
// where the book keeps its rows, {rows} are those of the load and {ok} those of
// them that are taken, as the book keeps them; {row} is the hash of a row.
func (l *loader) fill(s *sheets.Sheet, query string) string {
	will := "accepted_" + s.Name // what will hold of the keys of the load
	table, rows, ok, row := s.Name, "valid_"+s.Name, "accepted_"+s.Name, "hash("+strings.Join(content(s), ", ")+")"
	if s.Name == "measurements" {
		table, rows, ok, row = "measured", "numbered", "accepted_numbered", "hash(form_id, place_id, reading_id)"
		will = "resulting_numbered"
	}
	return strings.NewReplacer("{s}", s.Name, "{key}", s.Key[0], "{content}", strings.Join(content(s), ", "),
		"{load}", fmt.Sprint(l.loadID), "{table}", table, "{rows}", rows, "{ok}", ok, "{row}", row, "{will}", will,
		"{carried}", carriedOrd, "{number hash}", bookfile.RowHash).Replace(query)
}

// groupCarefully has keys grouped by one thread where there are many (see
// engine.OneThread), until allThreads.
func (l *loader) groupCarefully(ctx context.Context, keys int64) error {
	if !l.manyKeys(keys) {
		return nil
	}
	l.careful = true
	return l.exec(ctx, engine.OneThread)
}

func (l *loader) allThreads(ctx context.Context) error {
	if !l.careful {
		return nil
	}
	l.careful = false
	return l.exec(context.WithoutCancel(ctx), engine.AllThreads)
}

// rowsOf is how many rows of a sheet are staged.
func (l *loader) rowsOf(s *sheets.Sheet) (n int64) {
	for _, p := range l.fresh(s.Name) {
		n = max(n, p.hi)
	}
	return n
}

// content are the book's columns of a sheet, which a row of it fills.
func content(s *sheets.Sheet) (names []string) {
	for _, c := range s.Columns {
		if !c.IsUnit() {
			names = append(names, cells.Columns(c)...)
		}
	}
	return names
}

func (l *loader) exec(ctx context.Context, query string, args ...any) error {
	_, err := l.conn.ExecContext(ctx, query, args...)
	return err
}
