// Package sheets knows the order sheets: their names, columns and words, and
// how the text of a cell becomes a value. It looks at files far enough to say
// what they are; the rows of CSV and Parquet files are read in bulk by the
// order book.
//
//	files and folders ─ Find ─▶ []Source ─ Inspect ─▶ Table (header, separator, hash)
//	workbook ─ Workbook ─▶ one CSV table a tab, with its row numbers
//	Table + Sheet ─ Match ─▶ which cell holds which column, in which unit
//	text of a cell ─ Parse ─▶ value, or the reason why not
//	any file ─ Grids ─▶ its tables cell by cell, for a mapping
//
// A row that can't be taken is a Reject: file, line, column, the text as
// written and the reason. Only trouble with a whole file is an error.
package sheets
