package sheet

import (
	"fmt"

	"lastroom/reports/page"
)

// A Paper is a size to print on, upright, in millimetres.
type Paper struct {
	Name          string
	Width, Height float64
}

// Papers are the sizes that can be printed on: ISO 216 for A4 and A3, ANSI/ASME
// Y14.1 sizes A (letter) and B (tabloid), 8.5 by 11 and 11 by 17 inches.
var Papers = []Paper{{"a4", 210, 297}, {"letter", 215.9, 279.4}, {"a3", 297, 420}, {"tabloid", 279.4, 431.8}}

// PaperNames are their names, the usual one first.
func PaperNames() (names []string) {
	for _, p := range Papers {
		names = append(names, p.Name)
	}
	return names
}

// margin stays white on every side. Home printers leave up to 6.4 mm (a quarter
// of an inch) unprinted; 8 is a judgement on the safe side that still leaves
// room for long feet on A4.
const margin = 8.0

// inner is the part that is printed on.
func (p Paper) inner() (w, h float64) { return p.Width - 2*margin, p.Height - 2*margin }

// numberedMM stays white around pages with a foot; home printers leave up to 6.4 mm (a
// quarter of an inch) unprinted.
const numberedMM = 11

// Numbered is a style for pages of this size with a foot and a number on each.
func (p Paper) Numbered(style, foot string) string {
	return style + fmt.Sprintf("\n@page{size:%gmm %gmm;margin:%dmm %[3]dmm 16mm;@bottom-left{content:%s;vertical-align:top;padding-top:2mm;font-size:9pt}@bottom-right{content:counter(page) \" / \" counter(pages);vertical-align:top;padding-top:2mm;font-size:9pt}}\n.sheet{max-width:%gmm}\n",
		p.Width, p.Height, numberedMM, page.CSSString(foot), p.Width-2*numberedMM)
}
