package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// Forms are to be held only where that pays, or where nobody said what it costs;
// a rule in force is never recommended again.
func TestHoldingIsAdvisedOnlyWhereItPays(t *testing.T) {
	given := func(point, low, high float64) stats.Estimate {
		return stats.Estimate{Point: point, Low: low, High: high, Level: level, N: 900}
	}
	fault := remakes.FaultFinding{Fault: "tape-marks-missing", Finding: true, Words: remakes.Words{Action: "as it was"}}
	remake, call := 400.0, 20.0
	costs := Costs{Remake: &remake, Callback: &call}
	missing := stats.Missing(900, "net", "no costs given")
	for _, w := range []struct {
		avoids, net stats.Estimate
		costs       Costs
		inForce     bool
		says        string
		holds       bool
	}{
		{given(2, 1, 3), given(300, 40, 500), costs, false, "gain 300 (95 % interval 40 to 500)", true},
		{given(2, 1, 3), given(30, -40, 90), costs, false, "not clear", false},
		{given(2, 1, 3), given(-30, -50, -10), costs, false, "costs more than it saves", false},
		{given(2, 1, 3), missing, Costs{}, false, "what either costs was not given", true},
		{given(1, -1, 3), missing, Costs{}, false, "may as well avoid nothing", false},
		{given(2, 1, 3), given(300, 40, 500), costs, true, "7 forms that it held since then were cut as they came", false},
	} {
		r := Scored{Rule: Rule{ID: "marks", When: "tape_marks_missing"}, Avoidable: w.avoids, Net: w.net, NumberNeeded: given(5, 4, 9), InForce: w.inForce,
			SlippedThrough: 7, Since: &Since{}, Corrected: missing, KeptPromise: missing}
		table := remakes.FaultTable{Faults: []remakes.FaultFinding{fault}}
		got := Advised(table, Scorecard{Costs: w.costs, Rules: []Scored{r}}).Faults[0].Words.Action
		assert.Contains(t, got, w.says)
		if w.holds {
			assert.Contains(t, got, "Hold forms that have it")
		} else {
			assert.NotContains(t, got, "Hold forms that have it")
		}
		assert.Equal(t, "as it was", table.Faults[0].Words.Action, "the given table stays as it is")
	}
}
