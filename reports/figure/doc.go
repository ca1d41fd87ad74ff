// Package figure draws the tool's figures as accessible SVG: a title and a
// description inside, the data as a table beside, n said in the figure, shapes
// and dashes besides colour, one drawing for a page and one for a phone.
//
// Inputs are plain values that were computed before; nothing is computed here
// but places on paper. A value that is not finite is not drawn. Where there is
// nothing to draw the figure says so in words.
//
// It is the only package that imports gonum/plot, which gives the scales, the
// ticks, the text measures and the drawing primitives.
package figure
