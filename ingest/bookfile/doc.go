// Package bookfile is the order book as a file: a shop's past orders in one DuckDB
// database with a folder beside it ([FilesOf]), written by one writer at a time.
// What is asked of its content is package orderbook's.
//
//  1. [OpenWriter] takes the lock and opens a working copy, brought up to the
//     newest schema (sql/schema.sql, sql/migrate).
//  2. Whoever writes (package load, package upkeep) changes the copy over
//     [Writer] Conn, in one transaction.
//  3. [Writer.Publish] adds a line to the ledger (file hashes, counts, a checksum
//     of the content), puts the copy in the place of the book in one step, and the
//     snapshot in front of readers. The ledger has a copy beside the book.
//  4. [Settle] does for the next opening what a writer that was stopped left undone.
package bookfile
