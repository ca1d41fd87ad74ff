// Package load reads order sheets into the order book, all or nothing.
//
// A load takes these steps, on one connection ([Sheets] on a working copy that
// takes the book's place at the end, [InMemory] on a book in memory):
//
//  1. intake: every file is copied, hashed, and its header matched → parts
//  2. stage: each part is read in bulk, one row a record, all text, or the
//     numbers of texts (measurements) → stage_<sheet>
//  3. words: every different text is parsed once in Go → words
//  4. checks: a row is taken, or rejected with its reasons → good_<sheet>, kept_<sheet>
//  5. merge: what is new or changed replaces what was → <sheet>, <sheet>_history
//  6. judge: numbers are held against human feet and legs → form_evidence
//  7. tell: rejected rows are found again in their files → [Report]
//
// [Audit] takes step 6 alone, for every form of a book. [Scratch] reads one form that
// was typed in, without files, into a book that is kept open for it.
//
// One special path is there for speed: measurements are staged as the numbers of
// their texts, not as texts. At 2.4 million rows staging them in a file as texts,
// and numbering them by a join to the dictionary, took 6.5 s of processor time
// against 2.9 s, of some 10 s for the whole load (one run each, a busy machine).
package load
