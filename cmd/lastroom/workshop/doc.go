// Package workshop joins the order book, the analyses, notebooks and pages to
// what a shop asks of the program. It knows no flags and prints nothing; the
// command line and the service are two ways to it.
//
//  1. [Open] reads the rules that go with a book and gives a [Workshop].
//     [Workshop.LoadSheets] takes sheets in; a [Progress] hears how far it is.
//  2. [Workshop.At] opens one state of the book as a notebooks.Source, which
//     keeps what was read from it in the cache beside the book.
//     [Workshop.Findings], [Workshop.Run], [Workshop.Review] and
//     [Workshop.Compare] work on such states.
//  3. [OpenDesk] makes a [Desk], which judges forms: of sheets
//     ([Desk.ReadSheets], [Desk.Judge]), typed in ([Desk.JudgeTyped]), or of the
//     book ([Desk.JudgeInBook]). [Desk.Explain] and [Desk.Letter] say why and
//     what to take again.
//  4. [Pages] are what the service shows besides notebooks: orders, an exercise,
//     the desk.
//  5. [InfoPage] and its neighbours lay out what the book says of itself.
//  6. [Failure] turns whatever went wrong on the way into an exit status and
//     words for people.
package workshop
