// Package remakes says how intake faults and remakes go together.
//
// All of it starts from a [cohort.Cohort] and ends in plain findings made of
// [stats.Estimate]:
//
//  1. [MatureAfter] finds after how many days an order's story can be taken as
//     told; young cohorts always look good.
//  2. [Faults] makes the fault table: crude, stratified, adjusted, with levels
//     of exposure, zone checks and words. The adjusted part comes from a risk
//     model that uses incomplete follow-up too (regression.Fit says how and why).
//  3. [Complaints] counts zones and directions.
//  4. [ChangeAt] and [NewComparer] serve analysis/rules: did the risk change at
//     a day, and how do two groups of orders compare, the kind of boot taken
//     into account? [ExpectedByMix] serves analysis/monitoring and
//     analysis/measurers.
//
// Nothing here reads a clock, a file or a global random source.
package remakes
