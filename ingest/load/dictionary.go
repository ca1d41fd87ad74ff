package load

import (
	"context"
	"database/sql/driver"
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/ingest/cells"
	"lastroom/ingest/engine"
	"lastroom/ingest/sheets"
)

// A dictionary is the different texts of a kind of column, each read once in Go:
// a column of millions of cells holds a few thousand different texts. Its rows
// are in the temporary table dictionary, told apart by the kind's number.
type dictionary struct {
	number int
	column sheets.Column
	cells  []cells.Cell
}

// dictionaryName says which dictionary a column shares: the kinds whose reading depends
// on the text alone have one each, a column of words has its own.
func dictionaryName(c sheets.Column) string {
	if c.Kind == sheets.Word || c.Kind == sheets.Open {
		return c.Name
	}
	return fmt.Sprint("kind ", c.Kind)
}

// parsed reports whether the cells of a column mean more than their text.
func parsed(c sheets.Column) bool { return c.Kind != sheets.Text && c.Kind != sheets.ID && !c.IsUnit() }

//go:embed sql/dictionary.sql
var dictionarySQL string

// readDictionaries gathers the different texts of the parsed columns of a staged
// sheet, reads them and puts them in the table dictionary.
func (l *loader) readDictionaries(ctx context.Context, s *sheets.Sheet) (map[string]*dictionary, error) {
	all := map[string]*dictionary{}
	var order, queries []string
	for i, c := range s.Columns {
		if !parsed(c) {
			continue
		}
		key := dictionaryName(c)
		if all[key] == nil {
			all[key] = &dictionary{number: len(order), column: c}
			order = append(order, key)
		}
		if !l.held(s, i) {
			continue
		}
		unit := "''"
		if c.Kind == sheets.Length {
			unit = engine.QuoteName(c.Name + "_u")
		}
		queries = append(queries, engine.Section(dictionarySQL, "texts", "{kind}", fmt.Sprint(all[key].number),
			"{column}", engine.QuoteName(c.Name), "{unit}", unit, "{table}", textsOf(s, c.Name)))
	}
	if err := l.exec(ctx, engine.Section(dictionarySQL, "make")); err != nil {
		return nil, err
	}
	if len(queries) > 0 {
		if err := l.groupCarefully(ctx, l.rowsOf(s)); err != nil { // the texts may all be different
			return nil, err
		}
		defer l.allThreads(ctx)
		texts, err := engine.Texts(ctx, l.conn, engine.Section(dictionarySQL, "different", "{texts}", strings.Join(queries, " UNION ALL ")))
		if err != nil {
			return nil, err
		}
		for _, t := range texts {
			d := all[order[atoi(t[0])]]
			d.cells = append(d.cells, cells.Read(d.column, t[1], t[2]))
		}
	}
	return all, engine.Append(l.conn, "temp", "dictionary", func(add func(...driver.Value) error) error {
		id := int32(0)
		for _, key := range order {
			for _, cell := range all[key].cells {
				if err := add(all[key].row(id, cell)...); err != nil {
					return err
				}
				id++
			}
		}
		return nil
	})
}

// held is whether any part of a sheet that is read has a column.
func (l *loader) held(s *sheets.Sheet, column int) bool {
	return slices.ContainsFunc(l.fresh(s.Name), func(p *part) bool { return p.layout.Cells[column].At >= 0 })
}

// row is a cell as a row of the table dictionary.
func (d *dictionary) row(id int32, c cells.Cell) []driver.Value {
	var day, yes, number, word, unit, why driver.Value
	if c.Why != "" {
		why = c.Why
	} else if c.Value.Known {
		switch d.column.Kind {
		case sheets.Day:
			day = c.Value.Day.UTC().Truncate(24 * time.Hour)
		case sheets.YesNo:
			yes = c.Value.Yes
		case sheets.Word, sheets.Open:
			word = c.Value.Text
		default:
			number = c.Value.Number
		}
		if c.Length != form.NoUnit {
			unit = c.Length.String()
		}
	}
	return []driver.Value{id, int32(d.number), c.Text, c.Unit, day, yes, number, word, unit, why}
}
