package upkeep

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"io"
	"path/filepath"
	"strings"
	"unicode"
	"unicode/utf8"

	"lastroom/ingest/sheets"
)

// telling reports whether an id says in any text whose it is. A number of few
// digits may be anything there, as a length or a day: it is looked for only where
// the text says that it stands for an order, a form or a customer.
func telling(id string) bool {
	const fewest, fewestDigits = 3, 5
	if strings.ContainsFunc(id, func(r rune) bool { return !unicode.IsDigit(r) }) {
		return utf8.RuneCountInString(id) >= fewest
	}
	return len(id) >= fewestDigits
}

// each gives the ids once, with what they stand for.
func (ids personIDs) each(do func(column, id string) (found bool)) bool {
	for _, column := range []string{"customer_id", "order_id", "form_id"} {
		for id := range ids[column] {
			if do(column, id) {
				return true
			}
		}
	}
	return false
}

// inLine reports whether one of the ids stands in a line that a person may have
// written; sure is false where that may be another number.
func (ids personIDs) inLine(line []byte) (found, sure bool) {
	low := bytes.ToLower(line)
	found = ids.each(func(column, id string) bool {
		what, _, _ := strings.Cut(column, "_")
		switch {
		case !hasWord(line, []byte(id)):
			return false
		case telling(id):
			sure = true
			return true
		}
		return bytes.Contains(low, []byte(what))
	})
	return found, sure
}

// inFile reports whether one of the ids stands in a file that the program wrote: as a
// word of its own; in a binary one (the forms that runs have been kept in) behind
// its length; an id that is no telling one in a column of such ids.
func (ids personIDs) inFile(name string, text []byte) bool {
	binary := !utf8.Valid(text) || bytes.IndexByte(text, 0) >= 0
	found := ids.each(func(_, id string) bool {
		return telling(id) && (hasWord(text, []byte(id)) || binary && hasCounted(text, id))
	})
	switch strings.ToLower(filepath.Ext(name)) {
	case ".txt": // a letter
		for line := range bytes.Lines(text) {
			named, _ := ids.inLine(line)
			found = found || named
		}
		return found
	case ".csv":
	default:
		return found
	}
	rows := csv.NewReader(bytes.NewReader(text))
	rows.FieldsPerRecord, rows.LazyQuotes = -1, true
	header, err := rows.Read()
	if err != nil {
		return false
	}
	columns := map[int]string{}
	for i, h := range header {
		for _, what := range []string{"customer_id", "order_id", "form_id"} {
			if word, _, _ := strings.Cut(what, "_"); strings.Contains(sheets.Fold(h), word) {
				columns[i] = what
			}
		}
	}
	for {
		row, err := rows.Read()
		if err != nil {
			return false
		}
		for i, column := range columns {
			if i < len(row) && ids[column][strings.TrimSpace(row[i])] {
				return true
			}
		}
	}
}

// inHiddenParts reports whether a telling id stands in a part of a workbook that is
// no tab's cells: comments, names, what a pivot table remembers.
func (ids personIDs) inHiddenParts(path string) (bool, error) {
	z, err := zip.OpenReader(path)
	if err != nil {
		return false, err
	}
	defer z.Close()
	const most = 64 << 20 // of one part
	for _, f := range z.File {
		if strings.HasPrefix(f.Name, "xl/worksheets/sheet") || f.Name == "xl/sharedStrings.xml" {
			continue // looked through cell by cell
		}
		part, err := f.Open()
		if err != nil {
			return false, err
		}
		text, err := io.ReadAll(io.LimitReader(part, most))
		part.Close()
		if err != nil {
			return false, err
		}
		if ids.each(func(_, id string) bool { return telling(id) && hasWord(text, []byte(id)) }) {
			return true, nil
		}
	}
	return false, nil
}
