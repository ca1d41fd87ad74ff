// Package sheet makes the sheets that are printed and written on: the measuring
// sheet of an order and one teaching sheet for each fault.
//
//  1. An Order says which boot it is for; with a form.Scheme it gives the places
//     that need a number.
//  2. Print lays out one page a foot at true size (scale bar, corner marks, the
//     form's number as a Data Matrix, ISO/IEC 16022), one page of boxes with a
//     drawing for each number, one page of instructions, tick boxes and cautions.
//  3. Teach lays out a page a fault: drawn right and wrong, why boots fail from
//     it, how to do it right.
//
// Both are one self-contained HTML file for a paper of a said size. Lengths are
// in millimetres. All words stand in the catalogue (sheet.yaml of package translation) and can be replaced; what is
// said of the craft there is common practice of the trade, no published source,
// unless a source is named beside it.
package sheet
