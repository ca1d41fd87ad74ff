package rules

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

// choiceShop is one of 2,000 orders and all rules with CI=true, otherwise of half as many with
// nine rules: the search among all is TestChoiceKnownTruth's and TestBestSetByTryingAll's.
func choiceShop() (*cohort.Cohort, []Applied, []Call) {
	c, _ := invented.Workshop{Orders: breadth.Few(1000, 2000), Intercept: -2.8, Seed: 5}.Make()
	as := defaults(c)
	if !breadth.Wide() {
		var some []Applied
		for _, k := range []int{0, 2, 3, 5, 6, 7, 11, 13, 14} {
			some = append(some, as[k])
		}
		as = some
	}
	return c, as, callsOf(c)
}

func costs(remake, callback float64) Costs { return Costs{Remake: &remake, Callback: &callback} }

// A set of one rule is that rule: what it holds and avoids is its line in the
// scorecard, which is checked against the truth by itself.
func TestChoiceOfOneRule(t *testing.T) {
	c, as, calls := choiceShop()
	d := Score(context.Background(), c, as, calls, Options{})
	for j, a := range as {
		r := d.Rules[j]
		if j%4 > 0 || !r.Avoidable.Given() || r.Avoidable.Point < 0.2 {
			continue
		}
		got := Choose(context.Background(), c, as[j:j+1], calls, ChooseOptions{Must: []string{a.ID}, Options: Options{Costs: costs(420, 18)}})
		require.Equal(t, []string{a.ID}, got.Chosen)
		assert.InDelta(t, r.Avoidable.Point, float64(got.Apparent), 1e-9, a.ID)
		assert.InDelta(t, r.HeldAMonth.Point, got.HeldAMonth.Point, 1e-9, a.ID)
		assert.Equal(t, d.FirstForms, got.FirstForms)
		assert.LessOrEqual(t, got.Avoided.Point, r.Avoidable.Point+1e-9, "less the optimism, never more")
		assert.Less(t, got.Avoided.Low, got.Avoided.Point)
		assert.InDelta(t, 420*got.Avoided.Point-18*100*r.HeldShare.Point, got.Net.Point, 1e-6, a.ID)
	}
}

// What a set promises is for as many orders again and as unsure as the success share. For one rule
// on one fault: of n first forms a share h is held, and mending one takes off m on average. Fresh
// orders then add at least a variance of m^2 h(1-h)/n (were all held forms alike) to what the
// scorecard says of these orders; a success share of 0.7 with a standard error of 0.1 in place of
// one that is given adds 0.1^2 (fall^2 + its variance) to the variance.
func TestPromiseOfASetByHand(t *testing.T) {
	c, as, _ := choiceShop()
	k := slices.IndexFunc(as, func(a Applied) bool { return a.ID == "tape-marks-missing" })
	as = as[k : k+1]
	variance := func(e stats.Estimate) float64 { return math.Pow((e.High-e.Low)/2/stats.Z(level)/100, 2) }
	set := func(success float64) stats.Estimate {
		k, why := newChooser(c, as, nil, ChooseOptions{Must: []string{as[0].ID}, Options: Options{Costs: costs(420, 18), Success: success}})
		require.Empty(t, why)
		k.settle(context.Background())
		return k.d.Avoided
	}
	one := Score(context.Background(), c, as, nil, Options{Success: usualSuccess}).Rules[0]
	given, taken := set(usualSuccess), set(0)
	fall, h, n := given.Point/100/usualSuccess, one.HeldShare.Point, float64(one.HeldShare.N)
	m := fall / h
	fresh := variance(given) - variance(one.Avoidable)
	least := usualSuccess * usualSuccess * m * m * h * (1 - h) / n
	assert.Greater(t, fresh, 0.95*least)
	assert.Less(t, fresh, 2*least)
	unsure := usualSpread * usualSpread * (fall*fall + variance(given)/usualSuccess/usualSuccess)
	t.Logf("fresh orders %.3g, at least %.3g; success %.3g, by hand %.3g", fresh, least, variance(taken)-variance(given), unsure)
	assert.InEpsilon(t, unsure, variance(taken)-variance(given), 0.15)

	// Fresh orders add to the variance, not to the third moment: limits lean by the acceleration a,
	// z s/(1 + a z) below and z s/(1 - a z) above, so a z s^3 z^3 is what it is in the scorecard.
	third := func(e stats.Estimate) float64 {
		below, above := e.Point-e.Low, e.High-e.Point
		return (above - below) / (above + below) * math.Pow(2/(1/below+1/above), 3)
	}
	assert.NotZero(t, third(one.Avoidable))
	assert.InEpsilon(t, third(one.Avoidable), third(given), 1e-6)
}

// The budget is kept, what must be in is in, what must not is out; more
// call-backs avoid no less; the same question has the same answer. With CI=true at four
// budgets, of six resamples each.
func TestChoiceKeepsItsTerms(t *testing.T) {
	c, as, calls := choiceShop()
	replicates, budgets := 2, []float64{0, 10, 1000}
	if breadth.Wide() {
		replicates, budgets = 6, []float64{0, 10, 30, 1000}
	}
	ask := func(o ChooseOptions, month float64) Choice {
		o.CallsAMonth, o.Replicates, o.Seed = &month, replicates, 3
		return Choose(context.Background(), c, as, calls, o)
	}
	last := 0.0
	for _, month := range budgets {
		d := ask(ChooseOptions{}, month)
		assert.LessOrEqual(t, d.HeldAMonth.Point, month)
		assert.GreaterOrEqual(t, float64(d.Apparent), last-1e-9, "at %v", month)
		last = float64(d.Apparent)
		assert.Equal(t, "remakes", d.For, "without costs")
		assert.False(t, d.Net.Given())
		assert.Equal(t, month == 0, len(d.Chosen) == 0)
		assert.Equal(t, replicates, d.Resamples)
		assert.Len(t, d.Steps, len(d.Chosen))
		before := Frontier{}
		for _, p := range d.Frontier {
			assert.Greater(t, p.HeldAMonth, before.HeldAMonth)
			assert.Greater(t, p.Avoided, before.Avoided, "a point that avoids no more is none")
			before = p
		}
	}
	d := ask(ChooseOptions{Must: []string{"outline-doubled"}, Never: []string{"two-faults", "tape-marks-missing"}}, 30)
	assert.Contains(t, d.Chosen, "outline-doubled")
	assert.NotContains(t, d.Chosen, "two-faults")
	assert.NotContains(t, d.Chosen, "tape-marks-missing")
	once, err := json.Marshal(d)
	require.NoError(t, err)
	again, err := json.Marshal(ask(ChooseOptions{Must: []string{"outline-doubled"}, Never: []string{"two-faults", "tape-marks-missing"}}, 30))
	require.NoError(t, err)
	assert.Equal(t, string(once), string(again))
	d = ask(ChooseOptions{Must: []string{"outline-doubled"}}, 1)
	assert.Equal(t, []string{"outline-doubled"}, d.Chosen)
	assert.NotEmpty(t, d.Warnings, "it holds more by itself")
}

// Where call-backs cost more than they save nothing is chosen; where they cost
// nothing all that avoids anything is. With CI=true of six resamples, otherwise of two.
func TestChoiceByCosts(t *testing.T) {
	c, as, calls := choiceShop()
	at := func(remake, callback float64) Choice {
		return Choose(context.Background(), c, as, calls, ChooseOptions{Options: Options{Costs: costs(remake, callback), Replicates: breadth.Few(2, 6)}})
	}
	dear := at(100, 90)
	assert.Empty(t, dear.Chosen)
	assert.Contains(t, dear.Words, "No rule is worth")
	cheap, usual := at(1000, 1), at(420, 60)
	assert.Greater(t, cheap.HeldAMonth.Point, usual.HeldAMonth.Point)
	assert.Greater(t, usual.HeldAMonth.Point, 0.0)
	assert.Len(t, usual.Band, 3)
}

// Too little to choose by is said, and is no number.
func TestChoiceRefuses(t *testing.T) {
	c, as, calls := choiceShop()
	d := Choose(context.Background(), c, as, calls, ChooseOptions{})
	assert.Contains(t, d.Words, "--calls-a-month", "no costs and no budget")
	assert.False(t, d.Avoided.Given())
	month := 10.0
	few, _ := invented.Workshop{Orders: 60, Intercept: -4, Seed: 1}.Make()
	d = Choose(context.Background(), few, defaults(few), nil, ChooseOptions{CallsAMonth: &month})
	assert.Contains(t, d.Words, "too few to tell")
	assert.False(t, d.Avoided.Given())
	assert.Empty(t, d.Chosen)
	d = Choose(context.Background(), &cohort.Cohort{AsOf: cohort.NoDay, First: make(cohort.FormFaults, len(form.Faults)), Cut: make(cohort.FormFaults, len(form.Faults))}, nil, nil, ChooseOptions{CallsAMonth: &month})
	assert.False(t, d.Avoided.Given())
}

// A condition that is a rule's own has the rule's line and overlaps it wholly.
func TestTryARule(t *testing.T) {
	c, as, calls := choiceShop()
	d := Score(context.Background(), c, as, calls, Options{})
	tried, err := TriedRule(as[0].When)
	require.NoError(t, err)
	assert.Equal(t, as[0].Mends, tried.Mends, "by default what the rule in the file mends")
	_, err = TriedRule(" ")
	assert.Error(t, err)
	got := Try(context.Background(), c, Applied{tried, as[0].Held}, as, calls, []string{"f1"}, Options{})
	assert.Equal(t, d.Rules[0].Avoidable, got.Tried.Avoidable)
	assert.Equal(t, d.Rules[0].Held, got.Overlap[0].Both)
	assert.Zero(t, got.Overlap[0].OnlyTried+got.Overlap[0].OnlyRule)
	for j, o := range got.Overlap {
		assert.Equal(t, d.Rules[0].Held, o.Both+o.OnlyTried, o.Rule)
		assert.Equal(t, d.Rules[j].Held, o.Both+o.OnlyRule, o.Rule)
	}
	assert.Equal(t, d.Rules[0].Held, got.New, "no rule is in force")
	assert.Equal(t, []string{"f1"}, got.HeldLastMonth)
	for day, month := range map[string]string{"2026-10-30": "2026-09", "2026-10-31": "2026-10", "2026-01-01": "2025-12"} {
		on, err := cohort.ParseDay(day)
		require.NoError(t, err)
		assert.Equal(t, month, LastMonth(on).String())
	}
}

// The risk model enters as one candidate that holds no more than can be called;
// with it the best set is no worse, and its own optimism is taken off as well.
func TestChoiceWithTheModel(t *testing.T) {
	c, as, calls := choiceShop()
	month := 15.0
	o := ChooseOptions{CallsAMonth: &month, Options: Options{Costs: costs(420, 18), Workers: 1}}
	k, why := newChooser(c, as, calls, o)
	require.Empty(t, why)
	without, a := k.settle(context.Background())
	o.Model = k.mending.Target(func(int) bool { return true }).Falls()
	with, why := newChooser(c, as, calls, o)
	require.Empty(t, why)
	set, _ := with.settle(context.Background())
	assert.GreaterOrEqual(t, with.value(with.falls, a, set), k.value(k.falls, a, without)-1e-9)
	assert.Contains(t, with.d.Chosen, ModelID)
	assert.LessOrEqual(t, with.d.HeldAMonth.Point, month)
	assert.Positive(t, with.modelOptimism(set))
	assert.Zero(t, k.modelOptimism(without))
	assert.Less(t, with.d.Avoided.Point, float64(with.d.Apparent))
}
