// Package cohort has the nouns that every analysis speaks in: a [Day] and a [Month], and
// orders in columns.
//
//  1. The order book's views say what is known of each order by a day; package orderbook
//     fills a [Cohort] with them, one shipped order a row.
//  2. An analysis reads columns by row: [Column] of numbers and days, [Factor] of words,
//     [FormFaults] of the faults of a form.
//  3. What is in the book and not in the cohort is told as [Exclusion]; what came in after
//     an earlier state as [Changes].
//
// Nothing is computed here but days. It stands on package form alone.
package cohort
