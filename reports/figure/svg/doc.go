// Package svg is how any figure is drawn: the tones, lines, letters and marks that
// all of them share, and the way from a plan to accessible SVG. It knows no
// figure; package figure has them.
//
//  1. NewPlot is an empty plot of gonum/plot in the program's look (style.go),
//  2. plotters.go has plotters for what gonum/plot has none for, and legends,
//  3. a Plan puts heading, legend and foot around plots; Rows is the plan of
//     labelled rows over one scale (rows.go),
//  4. Figure draws the plan for a page and for a phone and cleans the SVG that
//     gonum/plot writes (svg.go).
package svg
