package remakes

import (
	"fmt"
	"math"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// scorecardTells leads from a fault to its rule: whether holding forms pays is a
// matter of what is held, mended and spent.
const scorecardTells = "See in the scorecard of rules whether it pays to hold forms that have it."

// say puts the finding in words, by rule: what may be said depends on what was
// estimated and how sure it is, never on which fault it is.
func (f *FaultFinding) say() {
	w := &f.Words
	switch {
	case f.AdjustedRD.Given() && f.AdjustedRD.Bounded():
		f.sayAdjusted(w)
	case f.RiskDifference.Given():
		f.sayCrude(w)
	default:
		w.Headline = f.name() + ": too few orders to tell."
		w.Certainty = strings.Join(f.RiskDifference.Warnings, "; ")
		w.Change = "More orders with it, noted on every form, would tell."
		w.Action = "Keep noting it."
	}
	if f.ZoneCheck.Verdict == CarelessForm {
		w.Headline += " It likely stands for a careless form, not for the cause."
		w.Action = "Look at how such forms come about; mending this alone is not likely to help."
	}
	for _, x := range f.Warnings {
		w.Certainty += " Caution: " + x + "."
	}
}

func (f *FaultFinding) name() string {
	return form.Capitalised(f.Title)
}

func (f *FaultFinding) sayAdjusted(w *Words) {
	e := f.AdjustedRD
	w.Certainty = fmt.Sprintf("95 %% interval %s to %s per 100, on %d orders, %d of them cut with it, other faults and the kind of boot taken into account%s.",
		per100(e.Low), per100(e.High), f.With+f.Without, f.With, q(f.AdjustedQ))
	switch {
	case f.Finding:
		w.Headline = fmt.Sprintf("%s: probably costs about %s remakes per 100 such orders.", f.name(), per100(e.Point))
		w.Action = scorecardTells
		w.Change = f.unmeasured()
	case e.Low > 0 && f.Fault == anyFault.ID:
		w.Headline = fmt.Sprintf("%s goes with about %s more remakes per 100 such orders.", f.name(), per100(e.Point))
		w.Action = "See the single faults below for where to start."
		w.Change = f.unmeasured()
	case e.Low > 0:
		w.Headline = fmt.Sprintf("%s goes with about %s more remakes per 100 such orders, but so many faults were looked at that this one may be chance.", f.name(), per100(e.Point))
		w.Action = "Watch it; judge it again with next half-year's orders."
		w.Change = narrower(f.With)
	case e.High < 0:
		w.Headline = fmt.Sprintf("%s goes with about %s fewer remakes per 100 such orders.", f.name(), per100(-e.Point))
		w.Action = "Don't act on it; ask what is different about these orders."
		w.Change = f.unmeasured()
	default:
		w.Headline = fmt.Sprintf("%s: no clear link with remakes once the kind of boot and other faults are taken into account.", f.name())
		w.Action = "Nothing to change yet; keep noting it."
		w.Change = narrower(f.With)
	}
}

func (f *FaultFinding) sayCrude(w *Words) {
	e := f.RiskDifference
	w.Certainty = fmt.Sprintf("Difference %s per 100, 95 %% interval %s to %s, on %d orders, %d of them cut with it, nothing else taken into account%s.",
		per100(e.Point), per100(e.Low), per100(e.High), f.With+f.Without, f.With, q(f.QValue))
	w.Change = "Taking the kind of boot and the other faults into account may change it: tall boots miss more and are harder to fit."
	switch {
	case e.Low > 0:
		w.Headline = fmt.Sprintf("%s goes with a remake share of %s against %s without it.", f.name(), percent(f.RateWith.Point), percent(f.RateWithout.Point))
		w.Action = "Watch it. " + scorecardTells
	case e.High < 0:
		w.Headline = fmt.Sprintf("%s goes with a lower remake share, %s against %s without it.", f.name(), percent(f.RateWith.Point), percent(f.RateWithout.Point))
		w.Action = "Don't act on it; ask what is different about these orders."
	default:
		w.Headline = fmt.Sprintf("%s: no clear link with remakes.", f.name())
		w.Action = "Nothing to change yet; keep noting it."
	}
}

// unmeasured says how strong a cause nobody noted would have to be.
func (f *FaultFinding) unmeasured() string {
	if e := f.EValue; e.Given() && !math.IsNaN(e.Low) && e.Low > 1 {
		return fmt.Sprintf("It would take a cause that nobody noted, going with both this fault and remakes by a risk ratio of at least %.1f each, to explain this away (E-value of the near limit; %.1f for the figure itself).", e.Low, e.Point)
	}
	return "A cause that nobody noted and that goes with both this fault and remakes would explain it away."
}

// narrower says how many more orders halve the interval.
func narrower(with int) string {
	return fmt.Sprintf("About %d more orders cut with it would halve the interval.", 3*with)
}

func q(v stats.Value) string {
	if !v.Given() {
		return ""
	}
	if v < 0.001 {
		return ", q under 0.001"
	}
	return fmt.Sprintf(", q %.3f", float64(v))
}

func per100(x float64) string {
	if x *= 100; math.Abs(x) >= 9.95 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", math.Round(10*x)/10+0) // +0: no "-0.0"
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }
