package wording

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// Days as workshops write them; where both orders fit and nobody says which, a
// day is refused. Spelt by hand, checked against the calendar.
func TestReadDay(t *testing.T) {
	for _, x := range []struct {
		text  string
		order Order
		want  string // a day, or the error
	}{
		{"2026-09-30", NoOrder, "2026-09-30"}, {"2026/9/3", NoOrder, "2026-09-03"}, {"30.9.26", NoOrder, "2026-09-30"}, {"9/30/2026", NoOrder, "2026-09-30"},
		{"3/4/2026", DayFirst, "2026-04-03"}, {"3/4/2026", MonthFirst, "2026-03-04"}, {"3/3/2026", NoOrder, "2026-03-03"}, {"3/4/2026", NoOrder, errTwoDays.Error()},
		{"30-Sep-26", NoOrder, "2026-09-30"}, {"Sept. 30, 2026", NoOrder, "2026-09-30"}, {"3. März 2024", NoOrder, "2024-03-03"}, {"3 de mayo de 2023", NoOrder, "2023-05-03"},
		{"12 dicembre 2023", NoOrder, "2023-12-12"}, {"2024-05-06 14:30:00", NoOrder, "2024-05-06"}, {"5/6/24 2:30 pm", MonthFirst, "2024-05-06"}, {"2024-05-06T00:00:00Z", NoOrder, "2024-05-06"},
		{"29.2.2023", DayFirst, errNoSuch.Error()}, {"29.2.2024", DayFirst, "2024-02-29"}, {"13/14/2024", NoOrder, errNoSuch.Error()}, {"30/9/2026", MonthFirst, errAgainst.Error()},
		{"2024", NoOrder, errBareYear.Error()}, {"15", NoOrder, errBareYear.Error()}, {"10-1/2", NoOrder, errNoDay.Error()}, {"soon", NoOrder, errBareYear.Error()}, {"1/2/1899", DayFirst, errOutside.Error()},
		{"1/2/99", DayFirst, "1999-02-01"}, {"", NoOrder, errNoDay.Error()},
	} {
		day, err := ReadDay(x.text, x.order)
		got := day.Format(time.DateOnly)
		if err != nil {
			got = err.Error()
		}
		assert.Equal(t, x.want, got, "%s %s", x.text, x.order)
	}
}

func TestReadPlace(t *testing.T) {
	for text, want := range map[string]struct {
		p    Place
		rest string
	}{
		"Left Ball":            {Place{Side: "left", Point: "ball"}, ""},
		`7"`:                   {Place{Point: "leg", Height: `7"`}, ""},
		"length (tracing)":     {Place{Point: "length"}, ""},
		"über Hose 18 cm L":    {Place{Side: "left", Point: "leg", Height: "18 cm", Clothing: "tucked"}, ""},
		"Spann re.":            {Place{Side: "right", Point: "instep"}, ""},
		"collo del piede dx":   {Place{Side: "right", Point: "instep"}, ""},
		"Notes":                {Place{}, "notes"},
		"Balland":              {Place{}, "balland"},
		"pantorrilla izq.":     {Place{Side: "left", Point: "calf"}, ""},
		"R 11 in over jeans":   {Place{Side: "right", Point: "leg", Height: "11 in", Clothing: "tucked"}, ""},
		"short heel, the left": {Place{Side: "left", Point: "heel"}, ", the"},
	} {
		p, rest := ReadPlace(text)
		assert.Equal(t, want.p, p, text)
		assert.Equal(t, want.rest, rest, text)
	}
}

// What a customer said, as zone, direction and side; where two words of a kind
// stand in a text neither is taken.
func TestReadFit(t *testing.T) {
	own := []Phrase{{"zu hoch", "top"}}
	for text, want := range map[string]map[string]string{
		"Too tight at the left calf":         {"zone": "calf", "direction": "tight", "side": "left"},
		"rutscht an der Ferse, beide":        {"zone": "heel", "direction": "loose", "side": "both"},
		"heel left, heel right slips":        {"zone": "heel", "direction": "loose", "side": "both"},
		"corto":                              {"direction": "short", "zone": "length"},
		"Schaft zu hoch":                     {"zone": "top"},
		"tight in the ball and in the heel":  {"direction": "tight"},
		"measured wrong, too big at the top": {"cause": "measuring", "direction": "loose", "zone": "top"},
	} {
		got, some := ReadFit(text, own)
		assert.True(t, some, text)
		assert.Equal(t, want, got, text)
	}
	_, some := ReadFit("she did not like the colour", nil)
	assert.False(t, some)
	assert.Equal(t, "pattern", Cause("Leisten"))
	assert.Empty(t, Cause("rain"))
}

// A phrase stands in a text between what are no letters and no figures; one that says
// nothing stands in none.
func TestCut(t *testing.T) {
	for _, c := range []struct{ text, phrase, rest string }{
		{"zu weit oben", "zu weit", " ·  oben"}, {"too tight", "tight", "too  · "}, {"loose (toe)", "toe", "loose ( · )"},
		{"untight", "tight", ""}, {"tight2", "tight", ""}, {"well", "", ""}, {"", "", ""},
	} {
		rest, ok := Cut(c.text, c.phrase)
		assert.Equal(t, c.rest != "", ok, "%q in %q", c.phrase, c.text)
		if ok {
			assert.Equal(t, c.rest, rest)
		} else {
			assert.Equal(t, c.text, rest)
		}
	}
}
