package people

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/measurers"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/signs"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
	"lastroom/reports/translation"
)

func given(point, low, high float64) stats.Estimate {
	return stats.Estimate{Point: point, Low: low, High: high, Level: 0.95, N: 60, Method: "made up"}
}

// staff are three invented measurers; the first has more to work on than fits on a page.
func staff() measurers.Comparison {
	d := measurers.Comparison{AsOf: 20_000, Overall: given(0.08, 0.06, 0.1)}
	for _, id := range []string{"Anna", "Berta", "Carla"} {
		none := stats.Missing(0, "made up", "no day")
		m := measurers.Measurer{ID: id, Orders: 60, Remade: 5, Expected: given(5, 4, 6), Share: given(0.08, 0.05, 0.1), Rate: given(0.08, 0.03, 0.2), Ratio: given(1, 0.7, 1.4),
			Verdict: measurers.TooFewToTell, PerForm: given(0.4, 0.2, 0.6), Trend: measurers.Trend{TrainedOn: cohort.NoDay, Before: measurers.Period{Faults: none, Remade: none}, After: measurers.Period{Faults: none, Remade: none}, Change: none, Others: none}}
		d.Measurers = append(d.Measurers, m)
	}
	fault := func(id string, with int, rate, expected stats.Estimate, outside string) measurers.FaultRate {
		return measurers.FaultRate{Fault: id, AtRisk: 60, With: with, Share: rate, Rate: rate, Expected: expected, Outside: outside, QValue: 0.01, Orders: []string{"W-of-" + id}}
	}
	d.Measurers[0].Faults = []measurers.FaultRate{
		fault("outline-broken", 20, given(0.33, 0.22, 0.46), given(0.1, 0.08, 0.12), "above 99.8"),
		fault("sides-copied", 0, given(0, 0, 0.06), given(0.2, 0.15, 0.25), "below 99.8"),
		fault("value-implausible", 30, given(0.5, 0.4, 0.6), given(0.1, 0.08, 0.12), "above 99.8"),
	}
	d.Measurers[0].Signs = []signs.Sign{
		{Sign: signs.RoundedOff, Unit: "share", Value: given(0.5, 0.4, 0.6), StandsOut: true, Says: "Half are rounded.", Examples: []string{"F-rounded"}},
		{Sign: signs.TapeHeight, Unit: "mm", Value: given(12, 8, 16), StandsOut: true, Says: "Lies high.", Examples: []string{"F-high"}},
	}
	d.Measurers[0].Habits = []repeatability.Habit{{Measurer: "Anna", Girths: 40, Legs: 10, Tightness: given(-6, -8, -5), Height: given(0, -2, 2), Says: "Pulls tighter."}}
	return d
}

func printed(t *testing.T, d *page.Document) string {
	var text, html bytes.Buffer
	require.NoError(t, page.WriteText(&text, d, page.TextOptions{Width: 80}))
	require.NoError(t, page.HTML(&html, d))
	return text.String()
}

// The page that is handed over names nobody else, says what goes well, and has two
// things to work on at most; numbers that are rounded off are no second fault.
func TestHandOver(t *testing.T) {
	d := staff()
	s := printed(t, HandOver(d, d.Measurers[0]))
	assert.NotContains(t, s, "Berta")
	assert.NotContains(t, s, "Carla")
	assert.Contains(t, s, "Sides copied: only 0 of your 60 forms")
	assert.Contains(t, s, "Outline broken")
	assert.Contains(t, s, "20 of your 60 forms have it; of others' forms for boots as tall about 6 of 60")
	assert.Contains(t, s, "How tight the tape is")
	assert.NotContains(t, strings.ToLower(s), "value implausible")
	assert.Equal(t, 2, strings.Count(s, "What to do:"))
	assert.Contains(t, s, "W-of-outline-broken")
	assert.Len(t, Lessons(d.Measurers[0]), 2)
	assert.Contains(t, printed(t, HandOver(d, d.Measurers[1])), "Nothing stands out that calls for work now.")
	for _, word := range []string{"worst", "rank", "bad ", "poor"} {
		assert.NotContains(t, s, word)
	}
}

// Every page can be printed, empty as well.
func TestPagesOfNothing(t *testing.T) {
	assert.Contains(t, printed(t, RepeatsPage(repeatability.Of(nil))), "No training session is in the book")
	printed(t, ComparisonPage(measurers.Comparison{}))
	d := staff()
	all := printed(t, ComparisonPage(d))
	for _, m := range d.Measurers {
		assert.Contains(t, all, m.ID)
		assert.Contains(t, printed(t, OnePage(d, m)), "Measurer "+m.ID)
	}
	d.Newcomers = []measurers.Measurer{{ID: "Dora", Orders: 3, Verdict: measurers.TooFewToTell, Faults: []measurers.FaultRate{{Fault: "outline-broken", AtRisk: 6, With: 2}}}}
	all = printed(t, ComparisonPage(d))
	assert.Contains(t, all, "Newcomers among them with at least 5 orders")
	assert.Contains(t, all, "outline broken 2 of 6")
	assert.Contains(t, printed(t, HandOver(d, d.Newcomers[0])), "the first things that your forms show")
	assert.Contains(t, standsOut(d.Measurers[0]), "More often than others: outline broken (20 of 60 forms).")
	assert.Len(t, faultOrders(d.Measurers[0]).Rows, 3)
	assert.Contains(t, fmt.Sprint(standsOut(d.Measurers[1])), "Nothing")
}

// Every sentence of the pages can be said in German, but for what the test makes up.
func TestPagesAreWholeInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	d := staff()
	d.Newcomers = []measurers.Measurer{{ID: "Dora", Orders: 3, Verdict: measurers.TooFewToTell, Faults: []measurers.FaultRate{{Fault: "outline-broken", AtRisk: 6, With: 2}, {Fault: "unit-mixed", AtRisk: 6, With: 1}}}}
	docs := []*page.Document{ComparisonPage(d), HandOver(d, d.Newcomers[0]), RepeatsPage(repeatability.Of(nil)), RepeatsPage(twoOfThem())}
	for _, m := range d.Measurers {
		docs = append(docs, OnePage(d, m), HandOver(d, m))
	}
	made := []string{"Anna", "Berta", "Carla", "Dora", "Half are rounded.", "Lies high.", "Pulls tighter.", "no day (before, since"}
	for _, d := range docs {
		var html bytes.Buffer
		require.NoError(t, page.HTML(&html, d))
		_, untold := l.Page(html.Bytes())
		for _, u := range untold {
			assert.Contains(t, made, strings.Trim(u, "(),"), d.Title)
		}
	}
}

// twoOfThem are the instructor and one who lays the tape looser, on six legs, each twice.
func twoOfThem() repeatability.Study {
	var list []repeatability.Repeat
	for leg := range 6 {
		for who, name := range []string{"boss", "Anna"} {
			for trial := range 2 {
				for k, at := range []float64{177.8, 228.6, 279.4} {
					list = append(list, repeatability.Repeat{Session: "S1", Subject: fmt.Sprint("L", leg), Measurer: name, Reference: who == 0, Trial: trial + 1, Side: "left", Point: "leg", HeightMM: at,
						ValueMM: 240 + 40*float64(k) + 5*float64(leg) + 4*float64(who) + float64((leg*7+trial*3+k)%3)})
				}
			}
		}
	}
	return repeatability.Of(list)
}

// What is told of the places adds up, and a height is said as the tape was laid.
func TestRepeatsTellEachPlaceOnce(t *testing.T) {
	s := twoOfThem()
	for k, within := range []string{"yes", "no", ""} {
		s.Points[k].Within = within
	}
	text := strings.Join(strings.Fields(printed(t, RepeatsPage(s))), " ")
	assert.Contains(t, text, "at 1 of 3 places of the tape, at 1 they do not, and at 1 it can't be told yet")
	assert.Contains(t, text, "leg at 7 in")
	assert.NotContains(t, text, "178 mm")
}

func TestNobodyToCompareIsSaid(t *testing.T) {
	assert.Equal(t, "No measurer has 20 mature orders yet: nobody is compared. 1 measurer has fewer so far.", ComparisonPage(measurers.Comparison{TooFew: 1}).Lead)
	assert.Equal(t, "No measurer has 20 mature orders yet: nobody is compared.", ComparisonPage(measurers.Comparison{}).Lead)
}
