package translation_test

import (
	"html"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/care"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/reports/letter"
	"lastroom/reports/translation"
)

// Each word of the trade that pages take from a list can be said, so that a new fault,
// point or question is not shown in English.
func TestTheTradeIsSaid(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	all := append([]string{}, care.General...)
	for _, f := range form.Faults {
		all = append(all, f.ID, f.Title, f.Has, f.Why, f.ToWearer)
	}
	for _, m := range form.Marks {
		all = append(all, m.Label)
	}
	for _, words := range [][]string{form.Closures, form.Socks, form.Results, form.Directions, form.Causes, form.ComplaintSides, form.Texts(form.Zones), form.Texts(form.Channels), form.Texts(form.Units), desk.YesNo} {
		all = append(all, words...)
	}
	for _, q := range desk.Questions {
		all = append(all, q.Label)
	}
	for _, v := range []desk.Verdict{desk.Cut, desk.Ask, desk.MeasureAgain} {
		all = append(all, string(v))
	}
	for _, r := range rules.Default() {
		all = append(all, r.Title, r.Why)
	}
	var places []form.Place
	for _, p := range form.Points {
		for _, side := range form.Sides {
			for _, clothing := range form.Clothings {
				at := form.Place{Side: side, Clothing: clothing, Point: p}
				if p == form.Leg {
					at.HeightMM = 285.75
				}
				places = append(places, at)
				all = append(all, at.Name())
			}
		}
	}
	ask := letter.Ask{FormID: "F-1", Unit: form.Centimetre, Places: places, Tracing: true, Marks: true}
	for _, key := range []string{letter.AskSwelling, letter.AskOrthotic, letter.AskAlone, letter.AskUnit, letter.AskExchanged, letter.AskTrousers, letter.AskHow} {
		ask.Questions = append(ask.Questions, letter.Question{Key: key})
	}
	for _, unit := range form.Units {
		ask.Unit = unit
		all = append(all, letter.InShort(letter.English(), ask)...)
	}
	for _, words := range all {
		_, untold := l.Page([]byte("<p>" + html.EscapeString(words) + "</p>"))
		assert.Empty(t, untold, words)
	}
}
