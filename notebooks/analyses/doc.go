// Package analyses joins the tool's analyses to notebooks. A finding cell names
// one; it goes so:
//
//  1. All lists the analyses with their keys and parts, for the parser and the help.
//  2. The keys of the cell, with its parameters filled in, are read into Findings.
//  3. Findings asks the book for orders and packages analysis for what they say;
//     what took long is kept on the shelf of that state of the book.
//  4. Package review turns it into tables and figures, which become the named parts
//     of an Output, beside its values for prose and its frame for later cells.
//
// Commands and pages that need no notebook ask Findings themselves.
package analyses
