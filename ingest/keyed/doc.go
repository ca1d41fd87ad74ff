// Package keyed keeps what is typed in at the form desk, until it is in the order book
// as if it had come on sheets:
//
//  1. a [Record] holds what the desk knows of one order: its forms as they were
//     typed, what the desk said of each, the call-backs, and the rows that are not in
//     the book yet
//  2. [Store.Change] keeps it, a file an order beside the book, whole or not at all and
//     synced: once it has answered, what was accepted survives a pulled plug. Who
//     changes it names the version that was seen; another one in its place is
//     [ErrChanged]
//  3. package loading writes the waiting rows of all records as order sheets and loads them
//     as one load, all checks of sheets included
//
// A load copies the book and takes seconds in a large shop, a form at the desk is
// kept in milliseconds: that is why the two are apart. Rows wait in one place
// alone, and a load that is done again finds them unchanged, so nothing is lost or
// doubled where a program is killed between the two.
package keyed
