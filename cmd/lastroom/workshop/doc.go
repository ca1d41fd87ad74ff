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
//  3. [Workshop.Risk] and [Workshop.Foresight] tell risks by the kept model, and by
//     which of them a desk holds forms.
//  4. [Failure] turns whatever went wrong on the way into an exit status and
//     words for people.
//
// What stands on it is a package each below it: judging (the form desk), keeping (what
// is typed in there), serving (the pages), orderpages and bookpages (what they and the
// commands show).
package workshop
