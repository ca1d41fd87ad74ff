// Package orderbook keeps a shop's past orders in one DuckDB file and answers
// questions about them. It is the only package that knows the database.
//
// Into the book:
//
//  1. [Load] reads order sheets all or nothing, on a working copy that is
//     put in the place of the book when all of it is durable. A [Writer] does
//     the same for whatever else changes a book ([Forget], [Audit]).
//  2. The ledger has a line for each load: file hashes, counts and a checksum
//     of the content; a copy of it stands beside the book ([FilesOf]).
//
// Out of the book:
//
//  3. [OpenReader] opens the snapshot read-only and looks at it as it stood at
//     the end of one day: what was received, shipped or reported later is not
//     there. The views of sql/views are made on opening; each answers one
//     question and says in its header what its columns mean. They lead from
//     form (the facts and faults of a form) over cut_form, first_form and
//     follow_up to cohort.
//  4. [Reader.Cohort] hands the cohort to the analysis as columns,
//     [Reader.HoldFirstForms] says which first forms an intake rule holds.
//  5. [RunChild] runs the SQL of a person in a process of its own, locked away
//     from files, settings and the network.
//
// Beside it: [Verify] reads everything, [Backup] and [Restore] round-trip the
// content, [Export] is the way out to other engines.
package orderbook
