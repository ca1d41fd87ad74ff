package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
)

// alarmShares are the shares of good forms at which the desk's alarm is looked at
// on past forms; judgement.
var alarmShares = []float64{0.10, 0.05, 0.02, 0.01, 0.005}

// Conditions are what holds a form at the desk, and its alarm at other shares, as
// conditions over the columns of the order book's view "form": what the desk of a
// day, with the rules then in force, would have said of every form of the past,
// set-wise; [Lines] makes its verdicts of them. They differ from [Decide] in what the
// book does not keep of a form: the alarm is by published values, without the shop's
// own offsets and the customer's earlier pairs, an exchange of sides counts as
// measuring again, and there is no caution about swelling. Where doubts are weighed an
// alarm is one of them here, since by published values it says too much of a shop
// that measures in its own way, but for mixed units and impossible numbers.
func Conditions(list []rules.Rule, day cohort.Day, falseAlarms float64) []rules.Rule {
	alarm := func(share float64) string { return fmt.Sprintf("alarm_score >= %g", -math.Log10(share)) }
	again := []string{"foot_girth_missing", "leg_height_missing", "(" + alarm(falseAlarms) + " AND unit_mixed IS NOT TRUE)"}
	ask := []string{alarm(falseAlarms), "(alarm_score IS NULL AND value_implausible)"}
	firm := []string{"foot_girth_missing", "leg_height_missing", "unit_mixed", "(alarm_score IS NULL AND value_implausible)"}
	for _, f := range form.Faults {
		column := strings.ReplaceAll(f.ID, "-", "_")
		if slices.Contains(forTheWearer, f.ID) {
			firm = append(firm, column)
		}
		switch f.Asks {
		case form.Nothing:
		case form.Answer:
			ask = append(ask, column)
		default:
			again = append(again, column)
		}
	}
	for _, r := range list {
		if r.InForceOn(day) {
			ask, firm = append(ask, "("+r.When+"\n)"), append(firm, "("+r.When+"\n)")
		}
	}
	// A form that can't be judged goes through, as at the desk.
	eitherOf := func(of ...string) string { return "coalesce(" + strings.Join(of, " OR ") + ", FALSE)" }
	out := []rules.Rule{
		{ID: "desk: tape", When: eitherOf(again...)},
		{ID: "desk: doubt", When: eitherOf(append(again, ask...)...)},
		{ID: "desk: firm", When: eitherOf(firm...)},
	}
	for _, share := range alarmShares {
		out = append(out, rules.Rule{ID: fmt.Sprintf("desk: alarm %g", share), When: alarm(share),
			Title: fmt.Sprintf("numbers odder than all but %g %% of good forms", 100*share)})
	}
	return out
}

// The parts of [Conditions] before the alarms.
const (
	saidTape = iota // a tape or a pencil is needed
	saidDoubt
	saidFirm
	saidParts
)

// HeldVerdict stands for either verdict that holds a form.
const HeldVerdict = string(Ask) + " or " + string(MeasureAgain)

// EveryDoubtHeld and FirmHeld are the desk with every doubt held and with none, for
// comparison.
const (
	EveryDoubtHeld = HeldVerdict + ", every doubt held"
	FirmHeld       = HeldVerdict + ", no doubt held"
)

// Doubted and Firm are the first forms with any doubt, and those that are held
// whatever a call-back costs, by what [Conditions] said.
func Doubted(said []rules.Applied) []form.State { return said[saidDoubt].Held }

// Firm is told at Doubted.
func Firm(said []rules.Applied) []form.State { return said[saidFirm].Held }

// Lines are the desk's verdicts in force on past first forms, and what it would hold
// otherwise, for the scorecard: of what [Conditions] said, and how many remakes a
// call-back about each form can be expected to avoid (nil: not known, so that every
// doubt holds).
func Lines(said []rules.Applied, avoids []float64, t Threshold) []rules.DeskHeld {
	weighed := t.Given && avoids != nil
	n := len(said[saidFirm].Held)
	again, ask, held := make([]form.State, n), make([]form.State, n), make([]form.State, n)
	for i, firm := range said[saidFirm].Held {
		again[i], ask[i], held[i] = form.Without, form.Without, form.Without
		worth := weighed && avoids[i] >= t.Least
		switch {
		case firm == form.NotAtRisk:
			again[i], ask[i], held[i] = firm, firm, firm
			continue
		case firm != form.With && !worth && (weighed || said[saidDoubt].Held[i] != form.With):
			continue
		}
		held[i] = form.With
		// What the numbers show without being in doubt takes the tape too.
		if said[saidTape].Held[i] == form.With || said[saidDoubt].Held[i] != form.With {
			again[i] = form.With
		} else {
			ask[i] = form.With
		}
	}
	line := func(verdict, title string, states []form.State) rules.DeskHeld {
		return rules.DeskHeld{Verdict: verdict, Applied: rules.Applied{Rule: rules.Rule{ID: "desk: " + verdict, Title: title}, Held: states}}
	}
	var out []rules.DeskHeld
	for _, of := range []struct {
		verdict string
		states  []form.State
	}{{string(MeasureAgain), again}, {string(Ask), ask}, {HeldVerdict, held}} {
		h := line(of.verdict, "the desk says: "+of.verdict, of.states)
		h.InForce, h.Picked = t.From, weighed
		out = append(out, h)
	}
	if weighed {
		out = append(out, line(EveryDoubtHeld, "were every doubt to hold", said[saidDoubt].Held),
			line(FirmHeld, "were no doubt to hold: what nothing can be cut from, and rules in force", said[saidFirm].Held))
	}
	for k, a := range said[saidParts:] {
		out = append(out, rules.DeskHeld{Applied: a, AlarmShare: alarmShares[k]})
	}
	return out
}
