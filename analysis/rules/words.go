package rules

import (
	"fmt"
	"lastroom/analysis/stats"
)

// say puts a line of the scorecard in words, by rule: what may be said follows
// from the standardised estimate less optimism, and from what it gains.
func (r Scored) say(d Scorecard) string {
	if r.TooFew != "" {
		return r.TooFew + "."
	}
	s := fmt.Sprintf("Holds %.0f of 100 first forms (%.1f a month).", 100*r.HeldShare.Point, r.HeldAMonth.Point)
	if r.InForce { // not to be recommended again
		return s + " " + r.inForce()
	}
	if !r.Avoidable.Given() {
		return s + " What it would avoid can't be told: " + first(r.Avoidable.Warnings) + "."
	}
	a := r.Best()
	figure := fmt.Sprintf("%.1f fewer remakes per 100 orders (95 %% interval %.1f to %.1f), the other faults and the kind of boot taken into account, if %.0f of 100 call-backs mend the form", stats.Rounded(a.Point, 1), stats.Rounded(a.Low, 1), stats.Rounded(a.High, 1), 100*d.Success)
	switch {
	case a.High < 0:
		return s + " What it mends goes with fewer remakes, not more: it holds the wrong forms."
	case !(a.Low > 0):
		return s + " It may as well avoid nothing: " + figure + "."
	}
	s += " Worth about " + figure + "."
	switch {
	case !r.Net.Given():
		return s + " Whether that pays the call-backs can't be told: " + first(r.Net.Warnings) + "."
	case r.Net.Low > 0:
		return s + fmt.Sprintf(" It pays: 100 first forms gain %.0f (%.0f to %.0f), call-backs and delays paid.", stats.Rounded(r.Net.Point, 0), stats.Rounded(r.Net.Low, 0), stats.Rounded(r.Net.High, 0))
	case r.Net.High < 0:
		return s + fmt.Sprintf(" It costs more than it saves: %.0f per 100 first forms (%.0f to %.0f).", stats.Rounded(r.Net.Point, 0), stats.Rounded(r.Net.Low, 0), stats.Rounded(r.Net.High, 0))
	}
	return s + fmt.Sprintf(" Whether it pays is not clear: %.0f per 100 first forms (%.0f to %.0f).", stats.Rounded(r.Net.Point, 0), stats.Rounded(r.Net.Low, 0), stats.Rounded(r.Net.High, 0))
}
