package review

import (
	"math"
	"testing"

	"lastroom/analysis/rules"
	"lastroom/analysis/stats"

	"github.com/stretchr/testify/assert"
)

func TestShareOfOneForm(t *testing.T) {
	assert.Equal(t, []string{"1 form: no share under 10"}, share(0, 1).Warnings)
	assert.Equal(t, []string{"2 forms: no share under 10"}, share(0, 2).Warnings)
}

// In a first review no rule's worth can be told: then those that hold forms come before
// those that could not be judged on any.
func TestRulesThatHoldFormsComeFirst(t *testing.T) {
	worth := func(x float64) stats.Estimate {
		return stats.Estimate{Point: x, Low: math.NaN(), High: math.NaN(), N: 100}
	}
	none := stats.Missing(53, "m", "too few to tell")
	var ids []string
	for _, s := range byWorth([]rules.Scored{
		{Rule: rules.Rule{ID: "unjudged"}, Corrected: none, Avoidable: none},
		{Rule: rules.Rule{ID: "holds 4"}, Held: 4, Corrected: none, Avoidable: none},
		{Rule: rules.Rule{ID: "harms"}, Held: 9, Corrected: worth(-1), Avoidable: none},
		{Rule: rules.Rule{ID: "holds 25"}, Held: 25, Corrected: none, Avoidable: none},
		{Rule: rules.Rule{ID: "pays"}, Held: 2, Corrected: none, Avoidable: worth(2)},
	}) {
		ids = append(ids, s.ID)
	}
	assert.Equal(t, []string{"pays", "harms", "holds 25", "holds 4", "unjudged"}, ids)
}
