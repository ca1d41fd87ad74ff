package desk

import (
	"fmt"
	"math"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
)

// AlarmShares are the shares of good forms at which the desk's alarm is looked at
// on past forms; judgement.
var AlarmShares = []float64{0.10, 0.05, 0.02, 0.01, 0.005}

// Conditions are the desk's verdicts, and its alarm at other shares, as conditions
// over the columns of the order book's view "form": what the desk of a day, with the
// rules then in force, would have said of every form of the past, set-wise. They
// differ from [Decide] in what the book does not keep of a form: the alarm is by
// published values, without the shop's own offsets and the customer's earlier
// pairs, an exchange of sides counts as measuring again, and there is no caution
// about swelling.
func Conditions(list []rules.Rule, day cohort.Day, falseAlarms float64) []rules.Rule {
	alarm := func(share float64) string { return fmt.Sprintf("alarm_score >= %g", -math.Log10(share)) }
	again := []string{"foot_girth_missing", "leg_height_missing", "(" + alarm(falseAlarms) + " AND unit_mixed IS NOT TRUE)"}
	ask := []string{alarm(falseAlarms), "(alarm_score IS NULL AND value_implausible)"}
	for _, f := range form.Faults {
		column := strings.ReplaceAll(f.ID, "-", "_")
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
			ask = append(ask, "("+r.When+"\n)")
		}
	}
	// A form that can't be judged goes through, as at the desk.
	again = []string{"coalesce(" + strings.Join(again, " OR ") + ", FALSE)"}
	held := "coalesce(" + again[0] + " OR " + strings.Join(ask, " OR ") + ", FALSE)"
	verdict := func(v, when string) rules.Rule {
		return rules.Rule{ID: "desk: " + v, Title: "the desk says: " + v, When: when}
	}
	out := []rules.Rule{
		verdict(string(MeasureAgain), again[0]),
		verdict(string(Ask), held+" AND NOT "+again[0]),
		verdict(HeldVerdict, held),
	}
	for _, share := range AlarmShares {
		out = append(out, rules.Rule{ID: fmt.Sprintf("desk: alarm %g", share), When: alarm(share),
			Title: fmt.Sprintf("numbers odder than all but %g %% of good forms", 100*share)})
	}
	return out
}

// HeldVerdict stands for either verdict that holds a form.
const HeldVerdict = string(Ask) + " or " + string(MeasureAgain)

// Lines are what [Conditions] said of the forms, for the scorecard.
func Lines(said []rules.Applied) []rules.DeskHeld {
	verdicts := []string{string(MeasureAgain), string(Ask), HeldVerdict}
	var out []rules.DeskHeld
	for k, a := range said {
		line := rules.DeskHeld{Applied: a}
		if k < len(verdicts) {
			line.Verdict = verdicts[k]
		} else {
			line.AlarmShare = AlarmShares[k-len(verdicts)]
		}
		out = append(out, line)
	}
	return out
}
