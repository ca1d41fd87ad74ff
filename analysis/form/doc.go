// Package form has the words of the trade and of the paper form, once: points,
// sides, clothing, closures, zones, channels, the scheme of leg heights, what a
// Number and its Place are, and the catalogue of faults. Readers, views, the
// body model, the desk, letters and pages all take them from here, so that a
// new point or fault is added in one place.
//
//  1. A form has Numbers, each at a Place: a Side, a Clothing, a Point and, for
//     leg girths, a height above the floor (Scheme says which heights a boot
//     needs).
//  2. What is wrong or missing on a form is a Fault of the catalogue Faults; what
//     is known of it is a State.
//  3. Complaints name a Zone.
//
// It imports nothing of the program.
package form
