package brief

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

func estimate(p, lo, hi float64) stats.Estimate {
	return stats.Estimate{Point: p, Low: lo, High: hi, Level: 0.95, N: 1000, Method: "test"}
}

func fault(id string, attributable stats.Estimate, q float64) remakes.FaultFinding {
	return remakes.FaultFinding{Fault: id, Title: id, With: 100, Without: 900, AdjustedRD: estimate(0.1, 0.02, 0.2), AdjustedQ: stats.Value(q), Finding: true, Attributable: attributable}
}

// found are the findings of a review, in their order.
func found(f Found) []page.Finding {
	var out []page.Finding
	for _, c := range f.candidates() {
		out = append(out, c.finding)
	}
	return out
}

// Findings stand by what is expected to be spared and how certain that is: a large
// guess comes after a smaller sure thing, and a tiny q counts nothing. None is left out.
func TestFindingsStandByWorthAndCertainty(t *testing.T) {
	careless := fault("careless", estimate(30, 20, 40), 0.01)
	careless.ZoneCheck.Verdict = remakes.CarelessForm
	f := Found{Faults: remakes.FaultTable{Faults: []remakes.FaultFinding{
		careless, fault("guess", estimate(20, -2, 50), 0.04), fault("sure", estimate(12, 9, 15), 0.03), fault("small", estimate(1, 0.5, 1.5), 1e-12), fault("middle", estimate(8, 4, 12), 0.01),
		{Fault: "hint", Title: "hint", AdjustedRD: estimate(0.3, 0.2, 0.4), Attributable: estimate(40, 30, 50)},
		{Fault: "nothing", Title: "nothing", AdjustedRD: estimate(0.3, -0.2, 0.4), Attributable: estimate(40, 30, 50)},
	}}}
	var ids []string
	for _, one := range found(f) {
		ids = append(ids, one.ID)
	}
	assert.Equal(t, []string{"finding-sure", "finding-middle", "finding-guess", "finding-small", "finding-careless"}, ids)

	blocks := FindingBlocks(f)
	require.Len(t, blocks, mostFindings+1)
	words := strings.Join(blocks[mostFindings].(page.Prose), "\n")
	for _, name := range []string{"small (about", "careless (about", "hint (about"} {
		assert.Contains(t, words, name, "what is no card is named")
	}
	assert.NotContains(t, words, "nothing (about")
	assert.Len(t, RestOfFindings(f), 2)
}

// Good news comes as loudly as bad news.
func TestAMonthOutsideItsLimitsComesFirst(t *testing.T) {
	for signal, words := range map[string]string{"above": "More remakes than usual", "below": "Fewer remakes than usual"} {
		f := Found{Month: 24320, Trend: monitoring.Trend{FalseAlarms: 0.05, Monthly: monitoring.Monthly{Months: []monitoring.Month{{Month: 24320, Mature: true, Signal: signal, Orders: []string{"O-1"}}}}},
			Faults: remakes.FaultTable{Faults: []remakes.FaultFinding{fault("sure", estimate(12, 9, 15), 0.03)}}}
		first := found(f)[0]
		assert.Equal(t, "finding-month", first.ID)
		assert.Contains(t, first.Headline, words)
		assert.Equal(t, []string{"O-1"}, first.Orders.IDs)
		assert.Contains(t, first.Certainty, "in 5 of 100 years")
	}
	for direction, words := range map[string]string{"worse": "More pairs come back", "better": "Fewer pairs come back"} {
		f := Found{Month: 24320, Trend: monitoring.Trend{Signals: []monitoring.Signal{{Direction: direction, From: cohort.Month(24318).First(), Until: cohort.NoDay}}}}
		assert.Contains(t, found(f)[0].Headline, words)
	}
}

// A finding says whether its rule is on, since when, and what slipped through.
func TestAFindingKnowsItsRule(t *testing.T) {
	one := fault("outline-doubled", estimate(12, 9, 15), 0.03)
	scored := rules.Scored{Rule: rules.Rule{ID: "od", When: "outline_doubled"}}
	with := func(change func(*rules.Scored)) page.Finding {
		s := scored
		change(&s)
		return found(Found{Faults: remakes.FaultTable{Faults: []remakes.FaultFinding{one}}, Rules: rules.Scorecard{Rules: []rules.Scored{s}}})[0]
	}
	since := &rules.Since{From: cohort.Month(24320).First()}
	assert.Equal(t, []string{"Its rule is off."}, with(func(*rules.Scored) {}).Detail)
	assert.Equal(t, []string{"Its rule is on since 1 September 2026; 16 forms that it holds were cut all the same since then."}, with(func(s *rules.Scored) { s.InForce, s.Since, s.SlippedThrough = true, since, 16 }).Detail)
	assert.Equal(t, []string{"Its rule is on since 1 September 2026; no form that it holds was cut since then."}, with(func(s *rules.Scored) { s.InForce, s.Since = true, since }).Detail)
	assert.Equal(t, []string{"Its rule was on from 1 September 2026 and is off now."}, with(func(s *rules.Scored) { s.Since = since }).Detail)
	assert.Equal(t, "There is no rule for it.", found(Found{Faults: remakes.FaultTable{Faults: []remakes.FaultFinding{one}}})[0].Detail[0])
}

// The words follow the q value, which is the share of chance among findings that are
// as sure (Benjamini and Hochberg 1995, J R Stat Soc B 57:289-300).
func TestSureness(t *testing.T) {
	for q, want := range map[float64]string{
		0.053: "fairly sure (of 100 findings like this about 6 are chance)", 0.01: "sure (of 100 findings like this about 1 is chance)",
		0.2: "a hint (of 100 findings like this about 20 are chance)", 0: "sure (of 100 findings like this fewer than 1 is chance)",
	} {
		assert.Equal(t, want, sureness(q), fmt.Sprint(q))
	}
}

// Without like orders compared a fault is a finding only when its interval lies above
// nothing and its q value is within the level; then it says so.
func TestCrudeFindingsSaySo(t *testing.T) {
	f := remakes.FaultFinding{Fault: "x", Title: "x", RiskDifference: estimate(0.1, 0.04, 0.17), QValue: 0.03, AdjustedRD: stats.Missing(10, "m", "too few")}
	got := found(Found{Faults: remakes.FaultTable{Faults: []remakes.FaultFinding{f}}})
	require.Len(t, got, 1)
	assert.Contains(t, got[0].Certainty, "part of this may be theirs")
	f.QValue = 0.11
	assert.Empty(t, found(Found{Faults: remakes.FaultTable{Faults: []remakes.FaultFinding{f}}}))
}

func TestNoFindingIsAnAnswer(t *testing.T) {
	f := FindingBlocks(Found{Faults: remakes.FaultTable{MatureOrders: 300, Remade: 25}})
	require.Len(t, f, 1)
	assert.Contains(t, f[0].(page.Finding).Headline, "No fault")
	assert.NotEmpty(t, f[0].(page.Finding).Action)
}

// A rule in force is a finding only when its interval says something.
func TestKeptPromise(t *testing.T) {
	for want, k := range map[string]stats.Estimate{
		"kept about 60 in 100 of its promise": estimate(0.6, 0.1, 1.4), "has not brought what it promised": estimate(0.1, -0.4, 0.7),
		"": estimate(0.6, -0.2, 1.5), "  ": stats.Missing(0, "m"),
	} {
		f, ok := promise(rules.Scored{Since: &rules.Since{}, KeptPromise: k})
		assert.Equal(t, strings.TrimSpace(want) != "", ok)
		assert.Contains(t, f.Headline, strings.TrimSpace(want))
	}
}
