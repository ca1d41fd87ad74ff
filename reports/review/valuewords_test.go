package review

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestEveryValueOfAReviewIsSaidInWords(t *testing.T) {
	for _, v := range made(t, 300).Values() {
		assert.NotRegexp(t, `[_.]`, ValueTitle("review."+v.Name), v.Name)
		assert.NotRegexp(t, `^review`, ValueTitle("review."+v.Name), v.Name)
	}
	for name, want := range map[string]string{
		"review.month.share_at_equal_age":           "share of the month's orders remade, each looked at after the same time",
		"review.tape-marks-missing.remade_with":     "tape marks missing: remade with it",
		"rules.rule.two-faults.held":                "rule two-faults: forms it holds",
		"rules.rule.outline-broken.sensitivity":     "rule outline-broken: share of remakes it catches",
		"channels.home.remade_orders":               "channels, home, remade orders",
		"review.any-fault.adjusted_risk_difference": "any fault: more remakes in 100 orders with it, among like orders",
		"fault_found.rate_with":                     "fault found: share remade with it",
	} {
		assert.Equal(t, want, ValueTitle(name))
	}
}
