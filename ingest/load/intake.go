package load

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/grid"
	"lastroom/ingest/layout"
	"lastroom/ingest/sheets"
)

// intake finds the files, copies and hashes them and matches their headers.
func (l *loader) intake(ctx context.Context) error {
	var mayMap func(path string) bool
	if l.opt.Map != "" {
		var err error
		if l.mapping, err = layout.Read(l.opt.Map); err != nil {
			return err
		}
		mayMap = l.mapping.MayTake
	}
	found, ignored, err := sheets.Find(l.opt.Paths, mayMap)
	if err != nil {
		return err
	}
	l.report.Ignored = append(l.report.Ignored, ignored...)
	var mapped []layout.File
	for i, s := range found {
		l.opt.progress("reading "+filepath.Base(s.Path), 0.15*float64(i)/float64(len(found)))
		kept := filepath.Join(l.dir, fmt.Sprintf("in-%d%s", i, strings.ToLower(filepath.Ext(s.Path))))
		t, err := sheets.Intake(ctx, s.Path, kept)
		if t != nil {
			t.Name, t.Unpack = s.Label, l.opt.Unpack
		}
		if err == nil && mayMap != nil && mayMap(s.Path) && t.Format == sheets.Parquet {
			err = parquetText(ctx, l.conn, t, kept+".csv")
		}
		if err == nil && mayMap != nil && mayMap(s.Path) {
			mapped = append(mapped, layout.File{Table: t, Path: s.Path})
			continue
		}
		if err == nil {
			err = l.addFile(ctx, s, t)
		}
		if bad := (*sheets.FileError)(nil); errors.As(err, &bad) && !s.Given && s.Sheet == nil { // it only lies in the folder
			l.report.Ignored = append(l.report.Ignored, s.Label)
			l.report.Notes = append(l.report.Notes, err.Error()+" (it was left alone)")
			continue
		}
		if err != nil {
			return err
		}
	}
	if err := l.addMapped(ctx, mapped); err != nil {
		return err
	}
	l.readAgain()
	if len(l.parts) == 0 {
		return fmt.Errorf("%w: no order sheet among %s; spreadsheets as you keep them begin with lastroom layout", ErrNothing, strings.Join(l.opt.Paths, ", "))
	}
	return l.checkNeeded()
}

// addMapped takes up what the mapping finds in files, as order sheets. A file
// of which it describes nothing after all is read like any other.
func (l *loader) addMapped(ctx context.Context, files []layout.File) error {
	if l.mapping == nil {
		return nil
	}
	found, err := l.mapping.Convert(ctx, files, l.dir)
	if err != nil {
		return err
	}
	l.report.Notes = append(l.report.Notes, found.Notes...)
	l.report.KeptOut = append(l.report.KeptOut, found.Rejects...)
	for _, f := range files {
		if found.Taken[f.Path] {
			l.syncKept(f.Table.Kept)
			continue
		}
		if err := l.addFile(ctx, sheets.Source{Path: f.Path, Label: f.Table.Name}, f.Table); err != nil {
			return err
		}
	}
	told := map[string]bool{}
	for _, p := range found.Parts {
		match, err := sheets.Match(p.Sheet, p.Table.Header)
		if err != nil {
			return &sheets.FileError{File: p.Table.Name, Reason: err.Error()}
		}
		match.Unknown = p.Unused
		one := &part{table: p.Table, sheet: p.Sheet, layout: match, path: p.Path, mapped: true, cut: p.Broken}
		l.addPart(one)
		for _, b := range p.Broken { // a line counts once, in the first sheet that it is of
			if at := fmt.Sprint(p.Path, b.Line); !told[at] {
				told[at] = true
				one.why[-b.Line] = layout.OpenQuote
			}
		}
	}
	return nil
}

// addFile takes up a file that has the columns of the order sheets.
func (l *loader) addFile(ctx context.Context, s sheets.Source, t *sheets.Table) (err error) {
	l.syncKept(t.Kept)
	if t.Encoding != "" {
		l.report.Notes = append(l.report.Notes, t.Name+" is "+t.Encoding+" text")
	}
	tables := []*sheets.Table{t}
	switch t.Format {
	case sheets.CSV:
		err = t.ReadHeader()
	case sheets.XLSX, sheets.ODS:
		var notes []string
		tables, notes, err = sheets.Workbook(ctx, t, l.dir, wants(s))
		l.report.Notes = append(l.report.Notes, notes...)
	case sheets.Parquet:
		err = parquetHeader(ctx, l.conn, t)
	}
	if err != nil {
		return err
	}
	n := len(l.parts)
	for _, t := range tables {
		if err := l.addTable(s, t); err != nil {
			return err
		}
	}
	if len(l.parts) == n {
		l.report.Ignored = append(l.report.Ignored, t.Name)
	}
	return nil
}

// wants says which tabs of a workbook are read: those named like a sheet, and
// the only one of a file that is itself named like a sheet.
func wants(s sheets.Source) func(tab string) bool {
	return func(tab string) bool {
		_, ok := sheets.SheetNamed(tab)
		return ok || s.Sheet != nil
	}
}

// addTable says what a table holds: the sheet its name or its header says, or
// rows of several sheets that were kept out before.
func (l *loader) addTable(s sheets.Source, t *sheets.Table) error {
	sheet := s.Sheet
	if t.Tab != "" {
		named, ok := sheets.SheetNamed(t.Tab)
		if !ok && (sheet == nil || t.Tabs > 1) {
			return nil // another tab of the workbook
		}
		if ok {
			sheet = named
		}
	}
	names, several, err := sheets.SeveralSheets(t)
	if err != nil {
		return err
	}
	if several {
		return l.addSeveral(s, t, names)
	}
	if sheet == nil {
		guessed, ok := sheets.Guess(t.Header)
		if !ok {
			return &sheets.FileError{File: t.Name, Reason: "is no order sheet by its name or its columns (" + shortList(t.Header) + "); name it after its sheet, as orders.csv, or describe its columns in a mapping file (--map)"}
		}
		sheet = guessed
	}
	match, err := sheets.Match(sheet, t.Header)
	if err != nil {
		return &sheets.FileError{File: t.Name, Line: 1, Reason: err.Error()}
	}
	l.addPart(&part{table: t, sheet: sheet, layout: match, path: s.Path})
	return nil
}

func (l *loader) addSeveral(s sheets.Source, t *sheets.Table, names []string) error {
	for _, name := range names {
		sheet, ok := sheets.SheetNamed(name)
		if !ok {
			return &sheets.FileError{File: t.Name, Reason: fmt.Sprintf("its column sheet names %q, which is no order sheet", name)}
		}
		match, err := sheets.Match(sheet, t.Header)
		if err != nil {
			return &sheets.FileError{File: t.Name, Line: 1, Reason: err.Error()}
		}
		match.Unknown = nil // they belong to the other sheets of the file
		l.addPart(&part{table: t, sheet: sheet, layout: match, path: s.Path, only: name})
	}
	return nil
}

// addPart takes a part up, or notes that the book has it already: as it was
// read last, with nothing of its sheet taken, or taken back, by another file since.
func (l *loader) addPart(p *part) {
	name := p.table.Name
	if p.mapped && p.table.Tab != "" {
		name += ", tab " + p.table.Tab
	}
	p.count = &SheetCount{Sheet: p.sheet.Name, File: name, Unknown: p.layout.Unknown}
	p.broken, p.why = map[int64]bool{}, map[int64]string{}
	for _, line := range l.ledger {
		var here *bookfile.LedgerFile
		other := false
		for _, f := range line.Files {
			switch {
			case f.Sheet != p.sheet.Name:
			case f.SHA256 == p.table.SHA256 && f.File == name && f.MapSHA256 == l.mapHash(p) && f.KeptOut == 0:
				here = &f
			default:
				other = other || f.Taken+f.Superseded > 0
			}
		}
		if here != nil || other {
			p.before = here
		}
	}
	if f := p.before; f != nil {
		p.count.Read, p.count.Unchanged, p.count.AlreadyIn = f.Read, f.Read, true
	}
	for _, q := range l.parts {
		if q.table != p.table && q.table.SHA256 == p.table.SHA256 && q.sheet == p.sheet && q.table.Tab == p.table.Tab && !p.mapped {
			l.report.Notes = append(l.report.Notes, fmt.Sprintf("%s holds the same bytes as %s and is read once", name, q.table.Name))
			return
		}
	}
	l.parts = append(l.parts, p)
}

// mapHash is the hash of the mapping a part is read through, if any.
func (l *loader) mapHash(p *part) string {
	if !p.mapped {
		return ""
	}
	return l.mapping.SHA256
}

// checkNeeded sees that the book has every sheet it can't be without.
func (l *loader) checkNeeded() error {
	need := l.opt.Need
	if need == nil && (l.mapping != nil || len(l.ledger) > 0) { // a shop may keep nothing else; what a book began without it goes on without
		need = []string{"orders"}
	} else if need == nil {
		for _, s := range sheets.Catalogue {
			if s.Needed {
				need = append(need, s.Name)
			}
		}
	}
	have := map[string]bool{}
	for _, p := range l.parts {
		have[p.sheet.Name] = true
	}
	for _, line := range l.ledger {
		for _, f := range line.Files {
			have[f.Sheet] = true
		}
	}
	var lack []string
	for _, n := range need {
		if !have[n] {
			lack = append(lack, n)
		}
	}
	if len(lack) == 0 {
		return nil
	}
	return fmt.Errorf("the book needs the %s %s too; give the folder or the files that hold all of %s",
		plural(len(lack), "sheet", "sheets"), listed(lack), listed(need))
}

// parquetHeader checks the file's frame and its number of rows, and reads its column
// names.
func parquetHeader(ctx context.Context, conn *sql.Conn, t *sheets.Table) error {
	if err := sheets.CheckParquet(t); err != nil {
		return err
	}
	rows, err := engine.Number(ctx, conn, "SELECT coalesce(sum(num_rows), 0)::BIGINT FROM parquet_file_metadata("+engine.Quote(t.Read)+")")
	if err != nil {
		return &sheets.FileError{File: t.Name, Reason: "can't be read as Parquet: " + engine.FirstLine(err)}
	}
	if err := t.CheckRows(rows); err != nil {
		return err
	}
	names, err := engine.Texts(ctx, conn, "SELECT column_name, column_type FROM (DESCRIBE SELECT * FROM read_parquet("+engine.Quote(t.Read)+"))")
	if err != nil {
		return &sheets.FileError{File: t.Name, Reason: "can't be read as Parquet: " + engine.FirstLine(err)}
	}
	for _, n := range names {
		t.Header = append(t.Header, n[0])
		t.Floats = append(t.Floats, n[1] == "DOUBLE" || n[1] == "FLOAT")
	}
	if len(t.Header) > grid.MaxColumns {
		return &sheets.FileError{File: t.Name, Reason: fmt.Sprintf("has %d columns; a sheet has at most %d", len(t.Header), grid.MaxColumns)}
	}
	return nil
}

// parquetText writes a Parquet file as a text that a mapping reads: numbers
// without a point where they are whole, so that 17.0 is the key 17, and days
// without a time at midnight.
func parquetText(ctx context.Context, conn *sql.Conn, t *sheets.Table, path string) error {
	if err := parquetHeader(ctx, conn, t); err != nil {
		return err
	}
	var cells []string
	p := part{table: t}
	for i, name := range t.Header {
		cells = append(cells, "replace("+p.cell(i)+", ' 00:00:00', '') AS "+engine.QuoteName(name))
	}
	q := engine.Section(stageSQL, "parquet as text", "{cells}", strings.Join(cells, ", "), "{from}", engine.Quote(t.Read), "{to}", engine.Quote(path))
	if _, err := conn.ExecContext(ctx, q); err != nil {
		return &sheets.FileError{File: t.Name, Reason: "can't be read as Parquet: " + engine.FirstLine(err)}
	}
	return t.ReadAsText(path)
}

// ParquetAsText writes a Parquet file as a text to path, as one that a mapping names is
// read, for those who look at files without a book.
func ParquetAsText(ctx context.Context, t *sheets.Table, path string) error {
	db, err := engine.Open(ctx, "", false, engine.OneThread)
	if err != nil {
		return err
	}
	defer db.Close()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	return parquetText(ctx, conn, t, path)
}

func shortList(names []string) string {
	if len(names) > 6 {
		names = append(names[:6:6], "…")
	}
	return strings.Join(names, ", ")
}
