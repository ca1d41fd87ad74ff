// Package figure draws the tool's figures as accessible SVG: a title and a
// description inside, the data as a table beside, n said in the figure, shapes
// and dashes besides colour, one drawing for a page and one for a phone.
//
// Inputs are plain values that were computed before; nothing is computed here
// but places on paper. A value that is not finite is not drawn. Where there is
// nothing to draw the figure says so in words. On its way to a page a figure is
//
//  1. a value that says what is known (Run, Forest, Funnel …) and its table,
//  2. one or more plots of gonum/plot, styled one by one in style.go, with its
//     plotters, axes, ticks and legends, and with the plotters of plotters.go
//     for what it has none for; only the boot map is drawn by hand (boot.go),
//  3. a plan: the plots with heading, legend and foot around them,
//  4. the SVG that gonum/plot writes, cleaned for a page in svg.go.
//
// It is the only package that imports gonum/plot.
package figure
