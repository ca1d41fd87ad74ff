// Package layout reads a shop's own tables by a mapping: a small YAML file that
// says which files and tabs hold what, and how a column's texts become those of
// the order sheets.
//
//	mapping file ─ Read ─▶ Mapping of Tables, each with its Sheets, Sources, Numbers
//	files ─ Convert ─▶ for each table the tabs it describes,
//	        rows: header found, rows skipped, filled down, told by their order
//	        writer: one text with the columns of an order sheet, each row with its cell
//	files ─ Preview ─▶ the same, and how each column is read
//
// The texts are read like any order sheet; a cell that can't be read is refused
// there, with the place in the shop's file. What a mapping may say stands in
// README.md, at "Reading a shop's own layout".
package layout
