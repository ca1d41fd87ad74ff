// Package monitoring follows remakes over time: is fit getting better?
//
//  1. [ShippingCurves] draws the cumulative remake share by shipping quarter, so
//     that young orders are compared at equal age.
//  2. [Watch] gives the months, young ones compared at equal age only, and
//     watches them and single orders for a change: one statement over all charts
//     at a stated rate of false alarms.
//
// What is expected of an order, and when its story is told, comes from
// [remakes.ExpectedByMix] and [remakes.MatureAfter]. Nothing here reads a clock, a
// file or a global random source.
package monitoring
