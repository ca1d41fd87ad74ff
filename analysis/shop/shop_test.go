package shop

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
)

func day(t *testing.T, s string) cohort.Day {
	t.Helper()
	if s == "" {
		return cohort.NoDay
	}
	d, err := cohort.ParseDay(s)
	require.NoError(t, err)
	return d
}

// handmade is five orders as of 30 October 2026, written out by hand: A and B of
// August, C, D and E of September.
func handmade(t *testing.T) *cohort.Cohort {
	none := cohort.Factor{Levels: []string{""}, Code: make([]int32, 5)}
	zones := cohort.Factor{Levels: []string{"", "heel"}, Code: []int32{1, 0, 0, 0, 1}}
	c := &cohort.Cohort{AsOf: day(t, "2026-10-30"), OrderID: []string{"A", "B", "C", "D", "E"},
		Cause: none, Zone: zones, Direction: none, Side: none, Cost: []float64{300, math.NaN(), math.NaN(), math.NaN(), math.NaN()},
		Answered: []bool{true, true, false, false, true}, NoDayTold: make([]bool, 5)}
	for _, row := range [][4]string{ // shipped, remade, adjusted, returned
		{"2026-08-10", "2026-10-05", "2026-08-20", ""}, {"2026-08-20", "", "", "2026-09-01"},
		{"2026-09-01", "", "", ""}, {"2026-09-20", "", "", ""}, {"2026-09-30", "2026-10-30", "", ""},
	} {
		c.Shipped, c.Remade = append(c.Shipped, day(t, row[0])), append(c.Remade, day(t, row[1]))
		c.Adjusted, c.Returned = append(c.Adjusted, day(t, row[2])), append(c.Returned, day(t, row[3]))
	}
	for range form.Faults {
		c.Cut = append(c.Cut, make([]form.State, 5))
	}
	for i := range form.Faults { // C has two faults, D three, E none at all
		for row := range 5 {
			c.Cut[i][row] = form.Without
		}
		if i < 3 {
			c.Cut[i][3] = form.With
		}
		if i < 2 {
			c.Cut[i][2] = form.With
		}
	}
	return c
}

func TestAccountByHand(t *testing.T) {
	c := handmade(t)
	august := c.Shipped[0].Month()
	usual := 430.0
	costs := rules.Costs{Remake: &usual}
	reports := []Report{
		{"A", day(t, "2026-08-20"), "adjusted", 20}, {"A", day(t, "2026-10-05"), "remade", 300}, {"A", cohort.NoDay, "remade", math.NaN()},
		{"B", day(t, "2026-09-01"), "returned", math.NaN()}, {"B", day(t, "2026-09-02"), "kept", math.NaN()}, {"other", day(t, "2026-09-02"), "remade", 1000},
	}
	all := Account(c, reports, costs, august, 0)
	assert.Equal(t, 2, all.Shipped)
	assert.Equal(t, Outcome{[]string{"A"}, Money{Sum: 730, Written: 1, Usual: 1}}, all.Remade)
	assert.Equal(t, Outcome{[]string{"A"}, Money{Sum: 20, Written: 1}}, all.Adjusted)
	assert.Equal(t, Outcome{[]string{"B"}, Money{Unpriced: 1}}, all.Returned)
	assert.Equal(t, Money{Sum: 750, Written: 2, Usual: 1, Unpriced: 1}, all.Money())

	// The remake of A was told 56 days after shipping, one report without a day.
	early := Account(c, reports, costs, august, 55)
	assert.Empty(t, early.Remade.Orders)
	assert.Equal(t, Money{}, early.Remade.Money)
	assert.Equal(t, []string{"A"}, early.Adjusted.Orders)
	assert.Equal(t, []string{"A"}, Account(c, reports, costs, august, 56).Remade.Orders)
	assert.Empty(t, Account(c, reports, costs, august-1, 0).Orders)
	assert.Equal(t, []string{"A", "B"}, all.Orders)
}

func TestLateAndRemakes(t *testing.T) {
	c := handmade(t)
	september := c.Shipped[4].Month()
	assert.Equal(t, []LateMonth{{september - 1, []string{"A"}}}, Late(c, september, day(t, "2026-09-30")))
	assert.Empty(t, Late(c, september, day(t, "2026-10-05")), "told by that day already")
	r := Remakes(c, september)
	require.Len(t, r, 1)
	assert.Equal(t, "E", r[0].Order)
	assert.Equal(t, "heel", r[0].Zone)
	assert.Empty(t, r[0].Faults)
}

// Those with most faults come first; an order with a word, or none of two faults, is
// not asked about, nor one that is mature.
func TestToAskAndPuzzles(t *testing.T) {
	c := handmade(t)
	m := remakes.MatureAfter(c, 0)
	from, to := c.Shipped[0], c.AsOf
	asked := ToAsk(c, m, from, to)
	require.Len(t, asked, 2)
	assert.Equal(t, []string{"D", "C"}, []string{asked[0].Order, asked[1].Order})
	assert.Len(t, ToAsk(c, m, from, c.Shipped[2]), 1, "D was shipped later")
	assert.Empty(t, ToAsk(c, remakes.MatureAfter(c, 10), from, to))
	puzzles := Puzzles(c, from, to)
	require.Len(t, puzzles, 2)
	assert.Equal(t, "E", puzzles[0].Order)
	assert.Contains(t, puzzles[0].Why, "remade (heel)")
	last := c.Shipped[4]
	assert.Len(t, Puzzles(c, last, last), 1, "first and last day count")
	assert.Empty(t, Puzzles(c, last+1, last+1))
	assert.Empty(t, Puzzles(c, last-1, last-1))
	assert.Len(t, ToAsk(c, m, c.Shipped[3], c.Shipped[3]), 1)
	assert.Equal(t, usualTelling, Telling(c), "too few remakes a year old")
}

// Half of the remakes are told of by the median of their days (type 7).
func TestTelling(t *testing.T) {
	c := &cohort.Cohort{AsOf: 2000}
	for k := range 21 {
		c.Shipped, c.Remade, c.Returned = append(c.Shipped, 100), append(c.Remade, cohort.Day(100+30+k)), append(c.Returned, cohort.NoDay)
	}
	assert.Equal(t, 40, Telling(c))
}
