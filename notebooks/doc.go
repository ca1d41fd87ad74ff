// Package notebooks runs notebooks: CommonMark files that hold prose, queries,
// figures and findings, over an order book. It goes in four steps:
//
//  1. Parse reads a file into a Notebook: a title, declared Parameters and a
//     list of parts, each prose or a Cell. Whatever names something that is not
//     there is refused with file, line and the nearest name.
//  2. A Runner binds the parameters, opens one state of the book (a Source) and
//     runs the cells top to bottom. The Result of a cell is a data frame, blocks
//     to show and named Values; later cells and the prose may name them.
//  3. The prose is filled in: each value link becomes the number with its
//     interval and n, each claim link is tested against the data.
//  4. What comes out is one page.Document, printed by reports/page. A Store
//     keeps runs beside the book, and two of them can be compared in words.
//
// A notebook holds no results: the same notebook, book and day give the same
// bytes. The notation is told in full in NOTATION.md, which the service shows.
package notebooks
