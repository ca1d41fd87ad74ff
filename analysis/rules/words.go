package rules

import "fmt"

// say puts a line of the scorecard in words, by rule.
func (r Scored) say(d Document) string {
	if r.TooFew != "" {
		return r.TooFew + "."
	}
	s := fmt.Sprintf("Holds %.0f of 100 first forms (%.1f a month). Held forms that were cut as they came were remade %.1f %%, the others %.1f %%",
		100*r.HeldShare.Point, r.HeldAMonth.Point, 100*r.RateHeld.Point, 100*r.RateNotHeld.Point)
	switch {
	case r.Difference.Low > 0:
		best := r.Avoidable
		if r.Corrected.Given() {
			best = r.Corrected
		}
		s += fmt.Sprintf(". If %.0f of 100 call-backs mend the form, about %.1f fewer remakes per 100 orders (%.1f to %.1f) may be hoped for, as far as the difference comes from the fault alone.", 100*d.Success, best.Point, best.Low, best.High)
	case r.Difference.High < 0:
		s += ": fewer among the held; it holds the wrong forms."
	default:
		s += ": no clear difference."
	}
	return s
}
