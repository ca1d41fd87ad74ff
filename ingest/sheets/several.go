package sheets

import (
	"os"
	"sort"
	"strings"
)

// SheetColumn is the header under which a file of rows of several sheets names
// the sheet of each row.
const SheetColumn = "sheet"

// SeveralSheets reports whether a text holds rows of several sheets (rows that
// were kept out, mended), and which: the different texts of its sheet column.
func SeveralSheets(t *Table) (names []string, ok bool, err error) {
	at := -1
	for i, h := range t.Header {
		if Fold(h) == SheetColumn {
			at = i
		}
	}
	if t.Format != CSV || at < 0 {
		return nil, false, nil
	}
	seen := map[string]bool{}
	err = t.Records(nil, nil, func(r Record) bool {
		if r.No >= 0 && at < len(r.Cells) {
			seen[strings.TrimSpace(r.Cells[at])] = true
		}
		return len(seen) <= len(Catalogue)
	})
	for name := range seen {
		if name != "" {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	return names, true, err
}

// CheckParquet sees whether a Parquet file has its frame, so that a file that
// was cut short is told plainly.
func CheckParquet(t *Table) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	var head, tail [4]byte
	if t.Bytes < 12 {
		return &FileError{File: t.Name, Reason: "is too short to be a Parquet file"}
	}
	if _, err := f.ReadAt(head[:], 0); err != nil {
		return err
	}
	if _, err := f.ReadAt(tail[:], t.Bytes-4); err != nil {
		return err
	}
	switch {
	case string(head[:]) == "PARE" || string(tail[:]) == "PARE":
		return &FileError{File: t.Name, Reason: "is an encrypted Parquet file; write it without encryption"}
	case string(head[:]) != "PAR1":
		return &FileError{File: t.Name, Reason: "is no Parquet file by its content"}
	case string(tail[:]) != "PAR1":
		return &FileError{File: t.Name, Reason: "is a Parquet file that was cut short"}
	}
	return nil
}
