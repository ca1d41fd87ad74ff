// Package stats holds textbook methods under their textbook names: intervals
// for proportions and two-group measures, stratified tables, survival, control
// charts, shrinkage, agreement, resampling.
//
// Each function states its formula, its source and what it does at the edges.
// Where gonum has the piece (distributions, matrices) it is used.
//
// The package knows nothing of boots and makes no choice for its callers: when
// ten orders are too few to show a rate is decided above it. It only refuses
// what has no answer. Three rules hold everywhere:
//
//   - A number for people is an [Estimate]. One that has no answer is
//     [Missing] with the reason in words; it is never a made-up number.
//   - Functions that return plain numbers say when they return NaN. None
//     returns an infinity unless its doc says so.
//   - Nothing reads a clock or a global random source. A seed is an argument,
//     and the same seed gives the same numbers for any number of workers.
//
// Nothing here panics on input: counts that make no sense (more events than
// trials, a negative count) give Missing, a typed error or NaN, as each doc
// says.
package stats
