// Package orderbook is the questions that an order book answers; how the book is
// kept and written is package bookfile's.
//
//  1. [OpenReader] opens the snapshot read-only and looks at it as it stood at
//     the end of one day: what was received, shipped or reported later is not
//     there.
//  2. The views of sql/views each answer one question and say in their header what
//     their columns mean. They lead from form (the facts and faults of a form) over
//     cut_form, first_form and follow_up to cohort.
//  3. [Reader.Cohort] hands the cohort to the analysis as columns;
//     [Reader.HoldFirstForms] says which first forms an intake rule holds.
//
// The engine works out a view's whole query to make it, and that of each view it
// rests on: all of them take it some 100 ms, more than most questions. So a reader
// makes a view, with those it rests on, when a question first has its name as a word
// ([Reader.conn] and [Reader.each] look for it), once for all its connections. A
// person's SQL (package sandbox) is looked through likewise, and finds all of them
// where that is not enough: [MakeViews], [MakeAllViews].
package orderbook
