// Package notebooks reads notebooks: CommonMark files that hold prose, queries,
// figures and findings, over an order book. It goes in four steps:
//
//  1. A Library finds the text: of a notebook that comes with the program, or of
//     the shop's own, which it also saves.
//  2. Parse reads it into a Notebook: a title, declared Parameters and a list of
//     Parts, each Prose or a Cell. Whatever names something that is not there, in
//     the notebook or in the Catalogue of analyses, is refused with file, line and
//     the nearest name.
//  3. Bind gives the parameters their values for one day of the book.
//  4. A Link of the prose asks for a value, said by InWords, or makes a claim, which
//     Judge tests.
//
// What a cell needs from outside is named here too: the Book with its Source, and
// the Input and Output of an Analysis. Running is package execution, the analyses
// are package analyses, kept runs are package archive.
//
// A notebook holds no results: the same notebook, book and day give the same
// bytes. The notation is told in full in NOTATION.md, which the service shows.
package notebooks
