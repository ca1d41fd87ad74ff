// Package propose looks at files that nobody described and writes a mapping for
// them, which always loads. What can't be told is a question in it.
//
//  1. [Gather] keeps copies of files, and of those in folders, to look at.
//  2. lookAll reads each tab or text: where its header stands, what each column
//     holds (look.go, by the names of roles.go).
//  3. group joins tables of one layout, understand settles what each column is and
//     whether the table is one of ours (tables.go).
//  4. table writes a layout's part of the mapping (writer.go): which rows are of it
//     (rows.go), units, days and decimal signs (settings.go), then its orders, numbers
//     and outcomes (orders.go, numbers.go, outcomes.go). What it has to guess is asked,
//     as a comment, and as a list for a page (lists.go), which the page has with all that
//     was seen (sketch.go).
//  5. [layout.Mapping.Preview] reads through the mapping; columns that turn out to be
//     unreadable are left out, and the mapping is written again.
package propose
