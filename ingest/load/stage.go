package load

import (
	"bytes"
	"context"
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

//go:embed sql/stage.sql
var stageSQL string

// commit commits to the working copy, which nobody sees before it is
// published whole: rows of an open transaction are read by one thread only.
func (l *loader) commit(ctx context.Context) error {
	if err := l.exec(ctx, "COMMIT"); err != nil {
		return err
	}
	return l.exec(ctx, "BEGIN TRANSACTION")
}

// commitMany does so where a sheet has more rows than one thread takes at a time, or
// is staged in another database: a transaction writes to one.
func (l *loader) commitMany(ctx context.Context, s *sheets.Sheet) error {
	const rowGroup = 122_880
	if l.rowsOf(s) <= rowGroup && s.Name != "measurements" {
		return nil
	}
	return l.commit(ctx)
}

// staged are the columns of a staging table: the text of every column of the
// sheet, and beside a length the text of its unit.
func staged(s *sheets.Sheet) (names []string) {
	for _, c := range s.Columns {
		if c.IsUnit() {
			continue
		}
		names = append(names, c.Name)
		if c.Kind == sheets.Length {
			names = append(names, c.Name+"_u")
		}
	}
	return names
}

// stageSheet stages every part of a sheet. The rowid of the staging table is the number
// of the record.
func (l *loader) stageSheet(ctx context.Context, s *sheets.Sheet) error {
	if err := l.exec(ctx, "SET preserve_insertion_order = true"); err != nil {
		return err
	}
	if s.Name == "measurements" {
		if err := l.makeNumberedStage(ctx); err != nil {
			return err
		}
	} else if err := l.exec(ctx, fmt.Sprintf("CREATE OR REPLACE TEMP TABLE stage_%s (%s VARCHAR)", s.Name, strings.Join(staged(s), " VARCHAR, "))); err != nil {
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
	if err := l.commitMany(ctx, s); err != nil {
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

// smallSheets is what the engine may keep in memory for sheets of up to a megabyte, in
// megabytes: a workbook so small can hold a million rows.
const smallSheets = 80

// memory is what the engine may keep in memory while the sheets are read: in proportion
// to their size, up to bookfile.WriteMemory. Of the book a load asks for some columns.
func (l *loader) memory() int64 {
	files, size := map[string]bool{}, int64(0)
	if book, err := os.Stat(l.report.Book); err == nil {
		size = book.Size() / 16
	}
	for _, p := range l.fresh("") {
		if !files[p.table.Kept] { // several tabs are one file
			files[p.table.Kept] = true
			size += p.table.Bytes
		}
	}
	return min(max(smallSheets, smallSheets*size>>20), bookfile.WriteMemory)
}

// giveMemory lets the engine have the memory that rows of a sheet need, and no
// less than it has for another; of no rows, whatever it had meanwhile.
func (l *loader) giveMemory(ctx context.Context, rows int64) error {
	if l.report.Book == "" { // a book in memory has no limit
		return nil
	}
	had := engine.LimitMemory(l.memory(), l.most)
	l.most = max(l.most, rows)
	limit := engine.LimitMemory(l.memory(), l.most)
	if rows > 0 && limit == had {
		return nil
	}
	return l.exec(ctx, limit)
}

// manyKeys reports whether the keys of so many rows, grouped, may take more memory than
// the engine has.
func (l *loader) manyKeys(rows int64) bool {
	return rows > l.opt.limits.groupedKeys*l.memory()/bookfile.WriteMemory
}

// stagePart reads the rows of a part in bulk into its staging table.
func (l *loader) stagePart(ctx context.Context, p *part, lo int64) (err error) {
	p.lo = lo
	if p.table.Mixed() { // which the bulk reader does not take, whatever is read first
		if err := p.table.UnifyLineEnds(filepath.Join(l.dir, "unified-"+filepath.Base(p.table.Kept))); err != nil {
			return err
		}
	}
	name := "stage_" + p.sheet.Name
	again := engine.Section(stageSQL, "again", "{s}", p.sheet.Name, "{rows}", fmt.Sprint(lo))
	read := func(query string) error {
		return l.readPart(ctx, p, query, func() error { return engine.Script(ctx, l.conn, again) })
	}
	if p.sheet.Name == "measurements" {
		err = l.stageNumbered(ctx, p.sheet, p.stageSelect(), read, func(query string) error { return l.samplePart(ctx, p, query) })
	} else {
		err = read("INSERT INTO " + name + " " + p.stageSelect())
	}
	if err != nil {
		return err
	}
	p.hi, err = engine.Number(ctx, l.conn, "SELECT count(*) FROM "+name)
	return err
}

// readPart runs the query that reads a part ({source}: where from) and notes
// the records that can't be split. A record that opens a quote and never closes
// it would swallow all that follow: it is blanked and the text read again,
// after again, if given, has cleared what was read.
func (l *loader) readPart(ctx context.Context, p *part, query string, again func() error) error {
	for try := 0; ; try++ {
		if err := l.exec(ctx, strings.ReplaceAll(query, "{source}", p.source(p.table.Read))); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return p.readError(err)
		}
		open, err := l.brokenRecords(ctx, p)
		if open < 0 || err != nil {
			return err
		}
		if try == maxOpenQuotes || len(p.table.Header) == 1 {
			return &sheets.FileError{File: p.table.Name, Reason: "quotes are opened and never closed on many lines; it is damaged or no CSV"}
		}
		if err := p.table.Blank(filepath.Join(l.dir, fmt.Sprintf("blanked-%d-%s", try%2, filepath.Base(p.table.Kept))), open); err != nil {
			return err
		}
		if again != nil {
			if err := again(); err != nil {
				return err
			}
		}
	}
}

// samplePart runs a query over a sample of a part's rows. Of a large CSV file that
// is pieces from all over it, which may begin and end within a row: what comes of
// that is good enough to learn from.
func (l *loader) samplePart(ctx context.Context, p *part, query string) error {
	path := p.table.Read
	if p.table.Format != sheets.Parquet {
		var err error
		if path, err = p.sample(filepath.Join(l.dir, "sample.csv")); err != nil {
			return &sheets.FileError{File: p.table.Name, Reason: "can't be read: " + err.Error()}
		}
	}
	if err := l.exec(ctx, strings.ReplaceAll(query, "{source}", p.source(path))); err != nil {
		return p.readError(err)
	}
	return l.exec(ctx, "DROP TABLE IF EXISTS broken; DROP TABLE IF EXISTS broken_scan")
}

// sample writes pieces of a large file, each of whole lines, to a new file; a small
// file is its own sample.
func (p *part) sample(to string) (path string, err error) {
	const pieces, size = 40, 64 << 10
	from, err := os.Open(p.table.Read)
	if err != nil {
		return "", err
	}
	defer from.Close()
	info, err := from.Stat()
	if err != nil || info.Size() < 2*pieces*size {
		return p.table.Read, err
	}
	out := bytes.NewBufferString(strings.Repeat(string(p.table.Sep), len(p.table.Header)-1) + "\n") // in the header's place
	piece := make([]byte, size)
	for k := range int64(pieces) {
		if _, err := from.ReadAt(piece, k*(info.Size()-size)/(pieces-1)); err != nil {
			return "", err
		}
		first, last := bytes.IndexByte(piece, '\n'), bytes.LastIndexByte(piece, '\n')
		if first >= 0 {
			out.Write(piece[first+1 : last+1])
		}
	}
	return to, os.WriteFile(to, out.Bytes(), 0o600)
}

// maxOpenQuotes is how many quotes that are never closed a file may hold.
const maxOpenQuotes = 50

func (p *part) readError(err error) error {
	return &sheets.FileError{File: p.table.Name, Reason: "can't be read: " + engine.FirstLine(err)}
}

// stageSelect is the query that reads a part as the columns of its staging
// table.
func (p *part) stageSelect() string {
	var cols []string
	for i, c := range p.sheet.Columns {
		if c.IsUnit() {
			continue
		}
		cols = append(cols, p.text(i))
		if c.Kind == sheets.Length {
			cols = append(cols, p.unit(i))
		}
	}
	if p.only != "" {
		mine := fmt.Sprintf("trim(%s) = %s", p.cell(headerAt(p.table.Header, sheets.SheetColumn)), engine.Quote(p.only))
		for i := range cols {
			cols[i] = "CASE WHEN " + mine + " THEN " + cols[i] + " END"
		}
	}
	return "SELECT " + strings.Join(cols, ", ") + " FROM {source}"
}

func headerAt(header []string, name string) int {
	for i, h := range header {
		if sheets.Fold(h) == name {
			return i
		}
	}
	return -1
}

// source is the table function that reads a part. Nothing is guessed: the
// columns are named by their place and are all text.
func (p *part) source(path string) string {
	if p.table.Format == sheets.Parquet {
		return "read_parquet(" + engine.Quote(path) + ")"
	}
	cols := make([]string, len(p.table.Header))
	for i := range cols {
		cols[i] = fmt.Sprintf("c%d: 'VARCHAR'", i)
	}
	return engine.Section(stageSQL, "csv", "{path}", engine.Quote(path), "{separator}", engine.Quote(string(p.table.Sep)), "{columns}", strings.Join(cols, ", "))
}

// cell is the text of the cell at a place of the record.
func (p *part) cell(at int) string {
	switch {
	case at < 0:
		return "NULL"
	case p.table.Format == sheets.Parquet && p.table.Floats[at]: // 17.0 is the key 17
		return "regexp_replace(" + engine.QuoteName(p.table.Header[at]) + "::VARCHAR, '\\.0$', '')"
	case p.table.Format == sheets.Parquet:
		return engine.QuoteName(p.table.Header[at]) + "::VARCHAR"
	}
	if p.table.Mending() {
		return fmt.Sprintf("regexp_replace(c%d, %s, '\\1')", at, engine.Quote("^'("+sheets.Executed+")"))
	}
	return fmt.Sprintf("c%d", at)
}

// text is the text of a column. Keys and other plain texts are trimmed here;
// the others are when they are parsed, and a length is kept to the letter.
func (p *part) text(i int) string {
	c, cell := p.sheet.Columns[i], p.cell(p.layout.Cells[i].At)
	switch {
	case cell == "NULL":
		return cell
	case !parsed(c):
		return engine.Section(stageSQL, "plain text", "{cell}", cell)
	case c.Kind == sheets.Money && p.table.Format == sheets.Parquet: // a number, so its point is a decimal sign
		return "CASE WHEN contains(" + cell + ", '.') THEN " + cell + " || '000' ELSE " + cell + " END"
	case c.Kind == sheets.Day && p.table.Format == sheets.Parquet:
		return "replace(" + cell + ", ' 00:00:00', '')"
	}
	return cell
}

// unit is the text of a length's unit, as parseUnits reads it: the unit of the
// header, that of the unit cell, or both parted by '|'; a comma first where a
// comma may be a decimal mark. The unit cell of a length is <name>_unit; the
// cell unit is that of the value, and of any other length that has none.
func (p *part) unit(i int) string {
	name, suffix := p.sheet.Columns[i].Name, p.layout.Cells[i].Unit
	own, shared := p.named(name+"_unit"), p.named("unit")
	if name == "value" {
		own = shared
	}
	var text string
	switch {
	case suffix == form.NoUnit && own == "NULL":
		text = "coalesce(" + shared + ", '')"
	case suffix == form.NoUnit:
		text = "coalesce(" + own + ", " + shared + ", '')"
	case own == "NULL":
		text = engine.Quote(suffix.String())
	default:
		text = engine.Quote(suffix.String()+"|") + " || coalesce(" + own + ", '')"
	}
	if p.table.DecimalComma() {
		text = "',' || " + text
	}
	return text
}

// named is the cell that holds a column of the sheet, or NULL.
func (p *part) named(column string) string {
	for i, c := range p.sheet.Columns {
		if c.Name == column {
			return p.cell(p.layout.Cells[i].At)
		}
	}
	return "NULL"
}

// brokenRecords notes the records that could not be split. open is where a
// record starts that opens a quote and runs on over the lines below; -1: none.
func (l *loader) brokenRecords(ctx context.Context, p *part) (open int64, err error) {
	if p.table.Format == sheets.Parquet {
		return -1, nil
	}
	rows, err := engine.Texts(ctx, l.conn, engine.Section(stageSQL, "broken"))
	if err != nil {
		return -1, err
	}
	if err := l.exec(ctx, "DROP TABLE broken; DROP TABLE broken_scan"); err != nil {
		return -1, err
	}
	at := make([]int64, len(rows))
	for i, r := range rows {
		at[i] = atoi(r[0])
	}
	if err := p.table.LineStarts(at); err != nil {
		return -1, err
	}
	open = -1
	for i, r := range rows {
		if p.broken[at[i]] {
			continue // it was blanked, and is told already
		}
		p.broken[at[i]] = true
		if strings.TrimSpace(r[2]) == "" {
			continue // a line of blanks is no row
		}
		p.why[at[i]] = brokenReason(r[1], len(p.table.Header))
		if open < 0 && r[1] == "UNQUOTED VALUE" && strings.ContainsAny(strings.TrimRight(r[2], "\r\n"), "\r\n") {
			open = at[i]
		}
	}
	return open, nil
}

func brokenReason(kind string, columns int) string {
	switch kind {
	case "MISSING COLUMNS":
		return fmt.Sprintf("the row has fewer cells than the header's %d", columns)
	case "TOO MANY COLUMNS":
		return fmt.Sprintf("the row has more cells than the header's %d; a text with the separator in it must stand in quotes", columns)
	case "UNQUOTED VALUE":
		return `a quote is opened and not closed as it should be; write a quote inside quotes twice ("14 5/8""")`
	case "LINE SIZE OVER MAXIMUM":
		return "the row is longer than 2 MB"
	}
	return "the row can't be split into cells"
}
