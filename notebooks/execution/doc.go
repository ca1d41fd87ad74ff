// Package execution runs a notebook over an order book:
//
//  1. A Runner opens one state of the book and binds the notebook's parameters.
//  2. It runs the cells top to bottom, each once, out of the cache where the same
//     was computed before. A query gives a frame; an analysis an Output; a figure
//     is drawn of an earlier frame. A cell that fails is told in its place, and
//     those that rest on it say that they did not run.
//  3. What a cell found is named: cell.value. Later queries name earlier tables.
//  4. The document is composed: prose with its values and judged claims filled in,
//     and what each cell shows, as a page.Document.
//
// The Run has all of it: for printing, for keeping (package archive) and for
// telling which claims the data do not support.
package execution
