// Package load reads order sheets into the order book, all or nothing.
//
// A load takes these steps, on one connection ([Sheets] on a working copy that
// takes the book's place at the end, [InMemory] on a book in memory):
//
//  1. intake: every file is copied, hashed, and its header matched → parts
//  2. stage: each part is read in bulk, one row a record, all text, or the
//     numbers of texts (measurements) → stage_<sheet>
//  3. dictionary: every different text is read once in Go (package cells) → dictionary
//  4. validate: rows with their cells read → valid_<sheet>, rejected_<sheet>
//  5. reject: rows that contradict others, or name what is not there → accepted_<sheet>;
//     what the numbers of a form amount to → summaries
//  6. merge: with what the load does not speak of carried over, what is new or
//     changed replaces what was → <sheet>, <sheet>_history
//  7. audit: numbers are held against human feet and legs (package audit) → form_evidence
//  8. report: rejected rows are found again in their files → [Report], and the file
//     of them (package rejects)
//
// A step is one file, its SQL one file of the same name in sql.
//
// One special path is there for speed: measurements are staged as the numbers of
// their texts, not as texts. At 2.4 million rows staging them in a file as texts,
// and numbering them by a join to the dictionary, took 6.5 s of processor time
// against 2.9 s, of some 10 s for the whole load (one run each, a busy machine).
package load
