package desk

import "lastroom/analysis/body"

// An asking is what an intake fault of the catalogue asks for at the desk.
// The faults that follow from the numbers are not here: the check of the
// numbers speaks for itself.
type asking struct {
	fault   string
	verdict Verdict
	trace   bool // the tracing has to be made again
	girths  bool // all girths have to be taken again
	why     string
}

// askings, in the order of the catalogue. Common practice of the trade, no
// published source; which of them hold a form in a shop is for its rules.
var askings = []asking{
	{"tape-marks-missing", Ask, false, false, "the tape marks are not all on the tracing: ask where the tape lay"},
	{"outline-broken", MeasureAgain, true, false, "the outline has a gap: the foot has to be traced again"},
	{"outline-doubled", MeasureAgain, true, false, "the outline has more than one line: the foot has to be traced again"},
	{"tape-zero-missed", MeasureAgain, false, true, "the tape was not read from its start: all girths have to be taken again"},
	{"self-measured", Ask, false, false, "the wearer measured alone: ask for a second person at the tape"},
	{"orthotic-undiscussed", Ask, false, false, "an orthotic is worn and not talked over: ask before cutting"},
}

func (d *Decision) faults(ids []string, c *body.Check) {
	for _, a := range askings {
		for _, id := range ids {
			if id == a.fault {
				d.raise(a.verdict, a.why)
				d.TraceAgain = d.TraceAgain || a.trace
				for _, r := range c.Readings {
					if a.girths && r.Point > body.Breadth {
						d.take(PlaceOf(r.Number))
					}
				}
			}
		}
	}
}
