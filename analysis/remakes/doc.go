// Package remakes says how intake faults and remakes go together.
//
// All of it starts from a [cohort.Cohort] and ends in plain findings made of
// [stats.Estimate]:
//
//  1. [MatureAfter] finds after how many days an order's story can be taken as
//     told; young cohorts always look good.
//  2. [ShippingCurves] draws the cumulative remake share by shipping quarter.
//  3. [Faults] makes the fault table: crude, stratified, adjusted, with levels
//     of exposure, zone checks and words. The adjusted part comes from a risk
//     model that uses incomplete follow-up too (regression.Fit says how and why).
//  4. [Complaints] counts zones and directions; [ToLookAt] names orders.
//  5. [Watch] gives the months, young ones compared at equal age only, and
//     watches them and single orders for a change: one statement over all
//     charts at a stated rate of false alarms.
//  6. [ChangeAt] and [NewComparer] serve analysis/rules: did the risk change at
//     a day, and how do two groups of orders compare, the kind of boot taken
//     into account? [ExpectedByMix] serves the charts and analysis/measurers.
//
// Nothing here reads a clock, a file or a global random source.
package remakes
