package rules

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// Advised are the faults with what to do about each finding as the scorecard of
// their rules bears it out: forms are to be held only where that pays, or where
// nobody said what it costs, and never again where a rule holds them already.
func Advised(t remakes.FaultTable, d Scorecard) remakes.FaultTable {
	t.Faults = slices.Clone(t.Faults)
	for k := range t.Faults {
		f := &t.Faults[k]
		j := slices.IndexFunc(d.Rules, func(r Scored) bool { return strings.ReplaceAll(r.When, "_", "-") == f.Fault })
		if j < 0 || !f.Finding || f.ZoneCheck.Verdict == remakes.CarelessForm {
			continue
		}
		if advice := d.Rules[j].advice(d.Costs); advice != "" {
			f.Words.Action = advice
		}
	}
	return t
}

// advice is what a finding about the rule's one fault comes to; "" where the
// scorecard has nothing to say.
func (r Scored) advice(c Costs) string {
	const hold = "Hold forms that have it and ask again before cutting"
	a, net := r.Best(), r.Net
	switch {
	case r.InForce:
		return r.inForce()
	case !a.Given():
		return ""
	case !(a.Low > 0):
		return "Holding such forms may as well avoid nothing; watch it, and judge it again with next half-year's orders."
	case c.Remake == nil || c.Callback == nil:
		return fmt.Sprintf("%s, if that is worth it: about %.1f call-backs for each remake avoided; what either costs was not given.", hold, r.NumberNeeded.Point)
	case !net.Given():
		return ""
	case net.Low > 0:
		return fmt.Sprintf("%s: 100 first forms gain %.0f (95 %% interval %.0f to %.0f), call-backs and delays paid.", hold, stats.Rounded(net.Point, 0), stats.Rounded(net.Low, 0), stats.Rounded(net.High, 0))
	case net.High < 0:
		return fmt.Sprintf("Don't hold such forms: that costs more than it saves, %.0f per 100 first forms (95 %% interval %.0f to %.0f).", stats.Rounded(net.Point, 0), stats.Rounded(net.Low, 0), stats.Rounded(net.High, 0))
	}
	return fmt.Sprintf("Whether it pays to hold such forms is not clear: %.0f per 100 first forms (95 %% interval %.0f to %.0f).", stats.Rounded(net.Point, 0), stats.Rounded(net.Low, 0), stats.Rounded(net.High, 0))
}

// inForce says of a rule in force how many slipped through, and whether it keeps
// its promise.
func (r Scored) inForce() string {
	s := fmt.Sprintf("In force since %s: %d forms that it held since then were cut as they came.", r.Since.From, r.SlippedThrough)
	switch k := r.KeptPromise; {
	case r.PromiseTold():
		return s + fmt.Sprintf(" Of what was promised, %.0f %% came true (%.0f to %.0f %%).", 100*k.Point, 100*k.Low, 100*k.High)
	case len(k.Warnings) > 0:
		return s + " Whether it keeps its promise can't be told: " + first(k.Warnings) + "."
	}
	return s
}
