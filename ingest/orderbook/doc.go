// Package orderbook is the order book: a shop's past orders in one DuckDB file,
// and the questions it answers.
//
// A book is written:
//
//  1. [OpenWriter] takes the lock and opens a working copy, brought up to the
//     newest schema (sql/schema.sql, sql/migrate).
//  2. Whoever writes (package load, package upkeep) changes the copy over
//     [Writer] Conn, in one transaction.
//  3. [Writer.Publish] adds a line to the ledger (file hashes, counts, a checksum
//     of the content), puts the copy in the place of the book in one step, and the
//     snapshot in front of readers. The ledger has a copy beside the book ([FilesOf]).
//
// And read:
//
//  4. [OpenReader] opens the snapshot read-only and looks at it as it stood at
//     the end of one day: what was received, shipped or reported later is not
//     there.
//  5. [MakeViews] makes the views of sql/views; each answers one question and says
//     in its header what its columns mean. They lead from form (the facts and
//     faults of a form) over cut_form, first_form and follow_up to cohort.
//  6. [Reader.Cohort] hands the cohort to the analysis as columns;
//     [Reader.HoldFirstForms] says which first forms an intake rule holds.
package orderbook
