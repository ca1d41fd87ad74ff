// Package figure draws the tool's figures as accessible SVG: a title and a
// description inside, the data as a table beside, n said in the figure, shapes
// and dashes besides colour, one drawing for a page and one for a phone.
//
// Inputs are plain values that were computed before; nothing is computed here
// but places on paper. A value that is not finite is not drawn. Where there is
// nothing to draw the figure says so in words. On its way to a page a figure is
//
//  1. a value that says what is known (Run, Forest, Funnel …) and its table,
//  2. one or more plots of gonum/plot, with its plotters, axes, ticks and
//     legends, in the look of package svg, which has plotters for what gonum has
//     none for; only the boot map is drawn by hand (boot.go),
//  3. a svg.Plan: the plots with heading, legend and foot around them,
//  4. the SVG that gonum/plot writes, cleaned for a page.
//
// It and package svg are the only ones that import gonum/plot.
package figure
