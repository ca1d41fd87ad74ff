package rules

import "fmt"

// say puts a line of the scorecard in words, by rule.
func (r Scored) say(d Scorecard) string {
	if r.TooFew != "" {
		return r.TooFew + "."
	}
	s := fmt.Sprintf("Holds %.0f of 100 first forms (%.1f a month). Held forms that were cut as they came were remade %.1f %%, the others %.1f %%",
		100*r.HeldShare.Point, r.HeldAMonth.Point, 100*r.RateHeld.Point, 100*r.RateNotHeld.Point)
	switch {
	case r.Difference.Low > 0 && r.AdjustedRD.Bounded() && !(r.AdjustedRD.Low > 0):
		s += fmt.Sprintf(", but with the kind of boot taken into account the difference is %.1f per 100 (%.1f to %.1f): it may as well be none.", 100*r.AdjustedRD.Point, 100*r.AdjustedRD.Low, 100*r.AdjustedRD.High)
	case r.Difference.Low > 0:
		best := r.Avoidable
		if r.Corrected.Given() {
			best = r.Corrected
		}
		s += fmt.Sprintf(". If %.0f of 100 call-backs mend the form, about %.1f fewer remakes per 100 orders (%.1f to %.1f) may be hoped for, as far as the difference comes from the fault alone%s.", 100*d.Success, best.Point, best.Low, best.High, r.adjusted())
	case r.Difference.High < 0:
		s += ": fewer among the held; it holds the wrong forms."
	default:
		s += ": no clear difference."
	}
	return s
}

func (r Scored) adjusted() string {
	if !r.AdjustedRD.Bounded() {
		return ""
	}
	return fmt.Sprintf(" (difference with the kind of boot taken into account: %.1f per 100, %.1f to %.1f)", 100*r.AdjustedRD.Point, 100*r.AdjustedRD.Low, 100*r.AdjustedRD.High)
}
