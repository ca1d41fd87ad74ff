// Package archive keeps runs of notebooks beside the book, and tells two of them
// apart:
//
//  1. A run is summed up in a Record: what it was made from, its values and the
//     verdicts of its claims.
//  2. A Store writes the record, the page, the tables and the notebook's text into a
//     folder of their own, beside its place and then renamed into it. Nothing
//     replaces a good run.
//  3. The record, the document and the files are read back by the run's id.
//  4. Compare says in words what changed from one record to another, and why.
package archive
