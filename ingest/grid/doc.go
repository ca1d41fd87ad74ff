// Package grid reads workbooks as tables of cells, whatever their layout: XLSX
// and XLSM (ECMA-376), ODS (ISO/IEC 26300). A Grid is one tab; its rows come
// one at a time with what their cells hold, the unit or the day that a number's
// format shows, and whether the row is hidden.
//
//	File ─ XLSX, ODS ─▶ []*Grid, one a tab
//	Grid ─ Rows ─▶ each Row that holds anything
//
// What may be unpacked is limited in proportion to the file, and no row is held
// longer than it is looked at, so that a file never costs much more than its
// size.
package grid
