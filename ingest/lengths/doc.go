// Package lengths reads lengths as a workshop writes them and prints them back.
//
// A length is text with a unit: the unit of its column (mm, cm or in), which
// the text may repeat (`371 mm`, `14 5/8"`) but not contradict. Inches may be
// written as a decimal number or as a whole number and a fraction: `14.625`,
// `14 5/8`, `14-5/8`, `5/8`, `14⅝`. A decimal comma is read where the caller
// says so (where the comma does not separate cells).
//
// The result is in millimetres, 1 in = 25.4 mm exactly (the international inch
// of 1959; ISO 80000-3), rounded to a ten-thousandth of a millimetre, so that
// two texts of the same length give the same number.
package lengths
