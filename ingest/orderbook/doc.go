// Package orderbook is the questions that an order book answers; how the book is
// kept and written is package bookfile's.
//
//  1. [OpenReader] opens the snapshot read-only and looks at it as it stood at
//     the end of one day: what was received, shipped or reported later is not
//     there.
//  2. [MakeViews] makes the views of sql/views; each answers one question and says
//     in its header what its columns mean. They lead from form (the facts and
//     faults of a form) over cut_form, first_form and follow_up to cohort.
//  3. [Reader.Cohort] hands the cohort to the analysis as columns;
//     [Reader.HoldFirstForms] says which first forms an intake rule holds.
package orderbook
