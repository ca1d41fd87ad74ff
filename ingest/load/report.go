package load

import (
	"context"
	_ "embed"
	"fmt"
	"sort"
	"strings"

	"lastroom/ingest/cells"
	"lastroom/ingest/engine"
	"lastroom/ingest/rejects"
	"lastroom/ingest/sheets"
)

//go:embed sql/report.sql
var reportSQL string

// reportRejected finds the rows that were kept out again in their files, reports them
// and writes them to the file of rejects. A load without any costs nothing
// here: files are read a second time only for the rows in question.
func (l *loader) reportRejected(ctx context.Context) error {
	l.opt.progress("looking up the rows kept out", 0.86)
	out := &rejects.File{Path: l.opt.Rejects}
	for _, p := range l.fresh("") {
		if p.count.KeptOut > 0 {
			if err := l.reportPart(ctx, p, out); err != nil {
				return err
			}
		}
		for _, b := range p.cut {
			out.Add(p.from(), sheets.Record{Line: b.Line, Cells: b.Cells}, b.Reason, "")
		}
	}
	sort.SliceStable(l.report.KeptOut, func(i, j int) bool {
		a, b := l.report.KeptOut[i], l.report.KeptOut[j]
		return a.File < b.File || a.File == b.File && a.Line < b.Line
	})
	name, err := out.Write()
	l.report.Rejects = name
	return err
}

func (l *loader) reportPart(ctx context.Context, p *part, out *rejects.File) error {
	rows, err := l.rejectedRows(ctx, p)
	if err != nil {
		return err
	}
	mates, err := l.setMates(ctx, p)
	if err != nil {
		return err
	}
	want := func(no int64) bool { return rows[no] != nil || mates[no] }
	return l.findRecords(ctx, p, want, func(r sheets.Record) bool {
		if r.No < 0 {
			if why := p.why[r.At]; why != "" {
				l.report.KeptOut = append(l.report.KeptOut, sheets.Reject{File: p.table.Name, Tab: p.table.Tab, Line: r.Line, Text: r.Text, Reason: why})
				out.Add(p.from(), r, why, "")
			}
			return true
		}
		var whys []string
		cell := ""
		for _, row := range rows[r.No] {
			reject := p.reject(r, row)
			l.report.KeptOut = append(l.report.KeptOut, reject)
			whys, cell = append(whys, reject.Why()), reject.Cell
		}
		if whys != nil || mates[r.No] {
			out.Add(p.from(), r, strings.Join(whys, "; "), cell)
		}
		return true
	})
}

// rejectedRows are the rows of a part that were kept out, by their record.
func (l *loader) rejectedRows(ctx context.Context, p *part) (map[int64][]string, error) {
	rows, err := engine.Texts(ctx, l.conn, l.fill(p.sheet, engine.Section(reportSQL, "rejected", "{lo}", fmt.Sprint(p.lo), "{hi}", fmt.Sprint(p.hi-1))))
	rejected := map[int64][]string{}
	for _, r := range rows {
		no := atoi(r[0])
		rejected[no] = append(rejected[no], r[1])
	}
	return rejected, err
}

// setMates are the good rows that share a set with one kept out. The file of
// rejects carries them too: the set replaces the one in the book when it is
// loaded again.
func (l *loader) setMates(ctx context.Context, p *part) (map[int64]bool, error) {
	mates := map[int64]bool{}
	if !p.sheet.Set || l.opt.Rejects == "" || p.sheet.Name == "measurements" { // a number replaces that number alone
		return mates, nil
	}
	rows, err := engine.Texts(ctx, l.conn, l.fill(p.sheet, engine.Section(reportSQL, "mates", "{lo}", fmt.Sprint(p.lo), "{hi}", fmt.Sprint(p.hi-1))))
	for _, r := range rows {
		mates[atoi(r[0])] = true
	}
	return mates, err
}

// reject is the report of a row: the cell in question, all that is wrong.
func (p *part) reject(r sheets.Record, why string) sheets.Reject {
	problems := strings.Split(why, cells.NextProblem)
	column, reason, _ := strings.Cut(problems[0], cells.ThenReason)
	out := sheets.Reject{File: p.table.Name, Tab: p.table.Tab, Line: r.Line, Column: column, Reason: reason}
	if at := p.cellOf(column); at >= 0 {
		out.Column = strings.TrimSpace(p.table.Header[at])
		if at < len(r.Cells) {
			out.Text = r.Cells[at]
		}
	}
	if p.table.Place != nil && r.No >= 0 {
		if cell, header := p.table.Place(r.No, column); header != "" {
			out.Cell, out.Column = cell, header
		}
	}
	for _, more := range problems[1:] {
		column, reason, _ := strings.Cut(more, cells.ThenReason)
		out.Reason += "; " + column + " " + reason
	}
	return out
}

// cellOf is where a record holds a column of the sheet; -1: nowhere.
func (p *part) cellOf(column string) int {
	for i, c := range p.sheet.Columns {
		if c.Name == column {
			return p.layout.Cells[i].At
		}
	}
	return -1
}

// findRecords goes over the records of a part as they stand in its file.
func (l *loader) findRecords(ctx context.Context, p *part, want func(int64) bool, do func(sheets.Record) bool) error {
	if p.table.Format == sheets.Parquet {
		return l.parquetRecords(ctx, p, do)
	}
	return p.table.Records(p.broken, want, func(r sheets.Record) bool {
		if p.table.RowNo != nil && r.No >= 0 {
			r.Line = int64(p.table.RowNo[r.No])
		}
		return do(r) && (r.No%4096 != 0 || ctx.Err() == nil)
	})
}

// parquetRecords reads the rows that were kept out, and their mates, out of a
// Parquet file; a row's line is its number from 1.
func (l *loader) parquetRecords(ctx context.Context, p *part, do func(sheets.Record) bool) error {
	var cols []string
	for i := range p.table.Header {
		cols = append(cols, p.cell(i))
	}
	rows, err := engine.Texts(ctx, l.conn, l.fill(p.sheet, engine.Section(reportSQL, "parquet",
		"{cells}", strings.Join(cols, ", "), "{path}", engine.Quote(p.table.Read), "{lo}", fmt.Sprint(p.lo))))
	for _, r := range rows {
		no := atoi(r[0])
		if !do(sheets.Record{No: no, Line: no + 1, Cells: r[1:], Text: strings.Join(r[1:], ",")}) {
			break
		}
	}
	return err
}
