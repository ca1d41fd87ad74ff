package load

import (
	"context"
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// addMapped takes a table up through the mapping: one part a sheet that the
// mapping finds in it.
func (l *loader) addMapped(s sheets.Source, t *sheets.Table) error {
	if lack := l.mapping.Missing(t); len(lack) > 0 {
		return &sheets.FileError{File: t.Name, Line: 1, Reason: fmt.Sprintf("lacks the %s %s that the mapping names",
			plural(len(lack), "column", "columns"), listed(lack))}
	}
	for i := range l.mapping.Sheets {
		ms := &l.mapping.Sheets[i]
		l.addPart(&part{table: t, sheet: ms.Sheet, path: s.Path, mapped: ms, mapping: l.mapping})
	}
	return nil
}

// needs is the column without which a row of a mapped sheet is no row.
func needs(s *sheets.Sheet) string {
	switch s.Name {
	case "measurements":
		return "value"
	case "outcomes":
		return "result"
	case "callbacks":
		return "called_on"
	}
	return s.Key[0]
}

// stageMapped reads the wide table once and puts the rows of the part's sheet
// in its staging table: for measurements all rows of the first number, then of
// the second, and so on.
func (l *loader) stageMapped(ctx context.Context, p *part) error {
	raw, err := l.rawTable(ctx, p)
	if err != nil {
		return err
	}
	numbers := []*sheets.Number{nil}
	if p.sheet.Name == "measurements" {
		numbers = nil
		for i := range p.mapped.Numbers {
			numbers = append(numbers, &p.mapped.Numbers[i])
		}
	}
	for _, n := range numbers {
		rows := "SELECT " + strings.Join(p.mappedColumns(n), ", ") + " FROM " + raw
		if n != nil {
			err = l.stageCoded(ctx, p.sheet, rows, func(query string) error { return l.exec(ctx, query) })
		} else {
			err = l.exec(ctx, "INSERT INTO stage_"+p.sheet.Name+" "+rows)
		}
		if err != nil {
			return err
		}
	}
	if p.each, err = engine.Number(ctx, l.conn, "SELECT count(*) FROM "+raw); err != nil {
		return err
	}
	p.hi, err = engine.Number(ctx, l.conn, "SELECT count(*) FROM stage_"+p.sheet.Name)
	return err
}

// rawTable is the table of a wide sheet's cells, made when it is first asked
// for; what could not be split is the first part's to tell.
func (l *loader) rawTable(ctx context.Context, p *part) (string, error) {
	name, ok := l.raw[p.table]
	if ok {
		return name, nil
	}
	name = fmt.Sprintf("raw_%d", len(l.raw))
	make := func(query string) string { return "CREATE OR REPLACE TEMP TABLE " + name + " AS " + query }
	var cells []string
	for i := range p.table.Header {
		cells = append(cells, fmt.Sprintf("%s AS c%d", p.cell(i), i))
	}
	l.raw[p.table] = name
	return name, l.readPart(ctx, p, make("SELECT "+strings.Join(cells, ", ")+" FROM {source}"), nil)
}

// mappedColumns are the columns of the staging table for one number, or for a
// row of another sheet. A row that lacks what it needs is blank.
func (p *part) mappedColumns(n *sheets.Number) (cols []string) {
	there := "trim(coalesce(" + p.mappedCell(needs(p.sheet), n) + ", ''), " + blanks + ") <> ''"
	for _, c := range p.sheet.Columns {
		if c.IsUnit() {
			continue
		}
		cell := p.mappedCell(c.Name, n)
		if !parsed(c) {
			cell = fmt.Sprintf("nullif(trim(%s, %s), '')", cell, blanks)
		}
		cols = append(cols, "CASE WHEN "+there+" THEN "+cell+" END")
		if c.Kind == sheets.Length {
			cols = append(cols, engine.Quote(p.mappedUnit(c.Name, n)))
		}
	}
	return cols
}

// mappedUnit is the unit text of a length, as parseUnits reads it.
func (p *part) mappedUnit(column string, n *sheets.Number) string {
	unit := p.mapped.Columns[column].Unit
	switch {
	case column == "height" && n != nil:
		unit = p.mapping.HeightUnit(*n)
	case column == "value" && n != nil && n.Unit != form.NoUnit:
		unit = n.Unit
	case unit == form.NoUnit:
		unit = p.mapping.Unit
	}
	if p.table.DecimalComma() {
		return "," + unit.String()
	}
	return unit.String()
}

// mappedCell is the text of a column in the wide table.
func (p *part) mappedCell(column string, n *sheets.Number) string {
	if n != nil {
		switch column {
		case "side":
			return engine.Quote(n.Side)
		case "clothing":
			return "nullif(" + engine.Quote(n.Clothing) + ", '')"
		case "point":
			return engine.Quote(n.Point)
		case "height":
			return "nullif(" + engine.Quote(n.Height) + ", '')"
		case "value":
			return fmt.Sprintf("c%d", sheets.HeaderAt(p.table.Header, n.Header))
		}
	}
	from, ok := p.mapped.Columns[column]
	if !ok {
		return "NULL"
	}
	if from.Always != "" {
		return engine.Quote(from.Always)
	}
	cell := fmt.Sprintf("c%d", sheets.HeaderAt(p.table.Header, from.Header))
	return p.translated(column, from, cell)
}

// translated puts the sheet's words for the shop's, and ISO days for its own.
func (p *part) translated(column string, from sheets.From, cell string) string {
	if len(from.Words) > 0 {
		var whens []string
		for _, word := range sortedKeys(from.Words) {
			whens = append(whens, "WHEN "+engine.Quote(word)+" THEN "+engine.Quote(from.Words[word]))
		}
		cell = fmt.Sprintf("CASE lower(trim(%s, %s)) %s ELSE %s END", cell, blanks, strings.Join(whens, " "), cell)
	}
	c, _ := p.sheet.Column(column)
	switch {
	case c.Kind == sheets.Day && p.mapping.Days != "":
		return fmt.Sprintf("coalesce(strftime(try_strptime(trim(%s), %s), '%%Y-%%m-%%d'), %s)", cell, engine.Quote(sheets.StrptimeOf(p.mapping.Days)), cell)
	case c.Kind == sheets.Money && p.table.DecimalComma():
		return "replace(" + cell + ", ',', '.')"
	}
	return cell
}
