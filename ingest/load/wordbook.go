package load

import (
	"context"
	"database/sql/driver"
	"fmt"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/ingest/engine"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
)

// A wordbook is the different texts of a kind of column, each read once in Go:
// a column of millions of cells holds a few thousand different texts. Its rows
// are in the temp table words, told apart by the kind's number.
type wordbook struct {
	number  int
	column  sheets.Column
	entries []entry
}

// An entry is a text, the text of its unit, and what they mean or why not.
type entry struct {
	text, unit string
	value      sheets.Value
	why        string
	length     form.Unit // the unit it was written in
}

// bookOf says which wordbook a column shares: the kinds whose reading depends
// on the text alone have one each, a column of words has its own.
func bookOf(c sheets.Column) string {
	if c.Kind == sheets.Word || c.Kind == sheets.Open {
		return c.Name
	}
	return fmt.Sprint("kind ", c.Kind)
}

// parsed reports whether the cells of a column mean more than their text.
func parsed(c sheets.Column) bool { return c.Kind != sheets.Text && c.Kind != sheets.ID && !c.IsUnit() }

// readWords gathers the different texts of the parsed columns of a staged
// sheet, parses them and puts them in the table words.
func (l *loader) readWords(ctx context.Context, s *sheets.Sheet) (map[string]*wordbook, error) {
	books := map[string]*wordbook{}
	queries := map[string][]string{}
	var order []string
	for _, c := range s.Columns {
		if !parsed(c) {
			continue
		}
		key := bookOf(c)
		if books[key] == nil {
			books[key] = &wordbook{number: len(order), column: c}
			order = append(order, key)
		}
		unit := "''"
		if c.Kind == sheets.Length {
			unit = engine.QuoteName(c.Name + "_u")
		}
		queries[key] = append(queries[key], fmt.Sprintf("SELECT DISTINCT %s AS t, %s AS u FROM %s WHERE %s IS NOT NULL",
			engine.QuoteName(c.Name), unit, textsOf(s, c.Name), engine.QuoteName(c.Name)))
	}
	for _, key := range order {
		if err := l.readBook(ctx, books[key], strings.Join(queries[key], " UNION ")); err != nil {
			return nil, err
		}
	}
	return books, l.fillWords(ctx, books, order)
}

func (l *loader) readBook(ctx context.Context, b *wordbook, query string) error {
	texts, err := engine.Texts(ctx, l.conn, query+" ORDER BY t, u")
	if err != nil {
		return err
	}
	for _, t := range texts {
		e := readText(b.column, t[0], t[1])
		b.entries = append(b.entries, e)
	}
	return nil
}

// readText reads a text of a column with the text of its unit.
func readText(c sheets.Column, text, unit string) entry {
	e := entry{text: text, unit: unit}
	units := strings.TrimPrefix(unit, ",")
	opt := lengths.Options{DecimalComma: units != unit}
	var err error
	if c.Kind == sheets.Length {
		e.length, err = parseUnits(units)
	}
	if err == nil {
		e.value, err = c.Parse(text, e.length, opt)
	}
	if err == nil && c.Kind == sheets.Length {
		e.length = lengths.WrittenIn(text, e.length)
	}
	if err != nil {
		e.why = err.Error()
	}
	return e
}

// parseUnits reads the unit text of the staging table.
func parseUnits(text string) (form.Unit, error) {
	suffix, own, both := strings.Cut(text, "|")
	if !both {
		own = suffix
	}
	u, ok := lengths.ParseUnit(own)
	if !ok {
		return u, fmt.Errorf("has the unit %q, which is none of mm, cm, in", own)
	}
	if h, _ := lengths.ParseUnit(suffix); both && u != form.NoUnit && h != u {
		return u, fmt.Errorf("is in %s by its header, but its unit is given as %s", h, u)
	} else if both {
		u = h
	}
	return u, nil
}

const makeWords = `CREATE OR REPLACE TEMP TABLE words (id INTEGER, book INTEGER, t VARCHAR, u VARCHAR, day DATE, yes BOOLEAN,
	number DOUBLE, word VARCHAR, unit VARCHAR, why VARCHAR)`

func (l *loader) fillWords(ctx context.Context, books map[string]*wordbook, order []string) error {
	if err := l.exec(ctx, makeWords); err != nil {
		return err
	}
	return engine.Append(l.conn, "temp", "words", func(add func(...driver.Value) error) error {
		id := int32(0)
		for _, key := range order {
			for _, e := range books[key].entries {
				if err := add(e.row(id, books[key])...); err != nil {
					return err
				}
				id++
			}
		}
		return nil
	})
}

func (e entry) row(id int32, b *wordbook) []driver.Value {
	row := []driver.Value{id, int32(b.number), e.text, e.unit, nil, nil, nil, nil, nil, nil}
	if e.why != "" {
		row[9] = e.why
		return row
	}
	if !e.value.Known {
		return row
	}
	switch b.column.Kind {
	case sheets.Day:
		row[4] = e.value.Day.UTC().Truncate(24 * time.Hour)
	case sheets.YesNo:
		row[5] = e.value.Yes
	case sheets.Word, sheets.Open:
		row[7] = e.value.Text
	default:
		row[6] = e.value.Number
	}
	if e.length != form.NoUnit {
		row[8] = e.length.String()
	}
	return row
}
