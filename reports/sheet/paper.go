package sheet

import (
	"fmt"
	"slices"
	"strings"
)

// A Paper is a size to print on, upright, in millimetres.
type Paper struct {
	Name          string
	Width, Height float64
}

// Papers are the sizes that can be printed on: ISO 216 for A4 and A3, ANSI/ASME
// Y14.1 sizes A (letter) and B (tabloid), 8.5 by 11 and 11 by 17 inches.
var Papers = []Paper{{"a4", 210, 297}, {"letter", 215.9, 279.4}, {"a3", 297, 420}, {"tabloid", 279.4, 431.8}}

// PaperNamed finds a paper by its name, in any case.
func PaperNamed(name string) (Paper, error) {
	i := slices.IndexFunc(Papers, func(p Paper) bool { return strings.EqualFold(p.Name, name) })
	if i < 0 {
		var names []string
		for _, p := range Papers {
			names = append(names, p.Name)
		}
		return Paper{}, fmt.Errorf("there is no paper %q; choose one of %s", name, strings.Join(names, ", "))
	}
	return Papers[i], nil
}

// margin stays white on every side. Home printers leave up to 6.4 mm (a quarter
// of an inch) unprinted; 8 is a judgement on the safe side that still leaves
// room for long feet on A4.
const margin = 8.0

// inner is the part that is printed on.
func (p Paper) inner() (w, h float64) { return p.Width - 2*margin, p.Height - 2*margin }
