package desk

import (
	"cmp"
	"slices"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
)

// An asking is what an intake fault of the catalogue asks for at the desk.
// The faults that follow from the numbers are not here: the check of the
// numbers speaks for itself.
type asking struct {
	fault   string
	verdict Verdict
	trace   bool // the tracing has to be made again
	girths  bool // all girths have to be taken again
	tucked  bool // leg girths have to be taken over the trousers
	why     string
}

// askings, in the order of the catalogue. Common practice of the trade, no
// published source; which of them hold a form in a shop is for its rules.
var askings = []asking{
	{"tape-marks-missing", Ask, false, false, false, "the tape marks are not all on the tracing: ask where the tape lay"},
	{"outline-broken", MeasureAgain, true, false, false, "the outline has a gap: the foot has to be traced again"},
	{"outline-doubled", MeasureAgain, true, false, false, "the outline has more than one line: the foot has to be traced again"},
	{"tape-zero-missed", MeasureAgain, false, true, false, "the tape was not read from its start: all girths have to be taken again"},
	{"tucked-set-skipped", MeasureAgain, false, false, true, "trousers will be worn inside and no number was taken over them: the leg has to be measured over the trousers too"},
	{"self-measured", Ask, false, false, false, "the wearer measured alone: ask for a second person at the tape"},
	{"orthotic-undiscussed", Ask, false, false, false, "an orthotic is worn and not talked over: ask before cutting"},
}

func (d *Decision) faults(ids []string, c *body.Check) {
	for _, a := range askings {
		for _, id := range ids {
			if id == a.fault {
				d.raise(a.verdict, a.why)
				d.TraceAgain = d.TraceAgain || a.trace
				for _, r := range c.Readings {
					if a.girths && r.Point.Girth() {
						d.take(r.Place)
					}
				}
				if a.tucked {
					d.overTrousers(c)
				}
			}
		}
	}
}

// overTrousers takes the leg girths of the ordered boot, those on the form and
// those missing, over the trousers.
func (d *Decision) overTrousers(c *body.Check) {
	legs := append([]form.Place{}, d.Missing...)
	for _, r := range c.Readings {
		legs = append(legs, r.Place)
	}
	legs = slices.DeleteFunc(legs, func(p form.Place) bool { return p.HeightMM == 0 })
	slices.SortStableFunc(legs, func(p, q form.Place) int { return cmp.Compare(p.HeightMM, q.HeightMM) })
	for _, p := range legs {
		p.Clothing = form.Tucked
		d.take(p)
	}
}
