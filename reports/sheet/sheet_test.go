package sheet

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/reports/translation"
)

func printed(t *testing.T, o Order, change func(*Layout)) string {
	t.Helper()
	lay := Layout{Papers[0], form.Inch, form.DefaultScheme, "A"}
	if change != nil {
		change(&lay)
	}
	var b bytes.Buffer
	require.NoError(t, Print(&b, Words.Language(translation.English), []Order{o}, lay))
	_, err := html.Parse(&b)
	require.NoError(t, err)
	b.Reset()
	require.NoError(t, Print(&b, Words.Language(translation.English), []Order{o}, lay))
	s := b.String()
	for _, bad := range []string{"ZgotmplZ", "style=", "NaN", "{height}", "{letter}"} {
		assert.NotContains(t, s, bad)
	}
	return s
}

// Boxes by hand for the default scheme: three foot girths and the ankle on both
// sides; for a shaft of 14 inches the heights 7, 9, 11 and 13 (four) and the
// largest calf; tucked sets for what is taken over trousers.
func TestBoxesOnlyForWhatTheBootNeeds(t *testing.T) {
	boxes := func(o Order) int { return strings.Count(printed(t, o, nil), `class="box"`) }
	assert.Equal(t, 2*4, boxes(Order{ShaftMM: 6 * 25.4}))
	assert.Equal(t, 2*(4+1), boxes(Order{ShaftMM: 7 * 25.4}))
	assert.Equal(t, 2*(4+1+4), boxes(Order{ShaftMM: 14 * 25.4}))
	assert.Equal(t, 2*(4+1+4)+2*(1+4), boxes(Order{ShaftMM: 14 * 25.4, Tucked: true}))
	s := printed(t, Order{ShaftMM: 14 * 25.4}, nil)
	assert.Contains(t, s, "Leg at 13 in")
	assert.NotContains(t, s, "15 in")
	assert.NotContains(t, s, "over trousers")
	s = printed(t, Order{ShaftMM: 200}, func(l *Layout) {
		l.Unit, l.Scheme.AnkleGirth, l.Scheme.HeelGirth, l.Version = form.Centimetre, form.NoAnkle, form.LongHeel, "B"
	})
	assert.NotContains(t, s, "<th scope=\"row\">Ankle")
	assert.Contains(t, s, "over the top of the instep")
	assert.Contains(t, s, "Instructions B")
	assert.Contains(t, s, "Who holds the tape?")
	assert.NotContains(t, s, "Let another person hold the tape")
}

func TestNamesAreText(t *testing.T) {
	s := printed(t, Order{Form: "F<1>", Name: `<b onload="x">`, ShaftMM: 150}, nil)
	assert.NotContains(t, s, "<b onload")
	assert.Contains(t, s, `aria-label="F&lt;1&gt; L A"`)
}

func TestRefusals(t *testing.T) {
	lay := Layout{Papers[0], form.Inch, form.DefaultScheme, "A"}
	var b bytes.Buffer
	assert.ErrorContains(t, Print(&b, Words.Language(translation.English), nil, lay), "no order")
	assert.ErrorContains(t, Print(&b, Words.Language(translation.English), []Order{{Form: strings.Repeat("x", 5000)}}, lay), "code")
	assert.ErrorContains(t, Teach(&b, Words.Language(translation.English), nil, Papers[0], form.DefaultScheme), "no fault")
	assert.ErrorContains(t, Teach(&b, Words.Language(translation.English), []Lesson{{Fault: "no-such"}}, Papers[0], form.DefaultScheme), `no fault "no-such"`)
	assert.Zero(t, b.Len(), "nothing is written half")
}

// Every fault of the catalogue has its texts and two drawings that differ.
func TestEveryFaultIsTaught(t *testing.T) {
	for _, tag := range Words.Tags() {
		l, err := Words.Read(Words.Files[tag])
		require.NoError(t, err, tag)
		assert.Empty(t, l.Missing, tag)
		assert.Equal(t, tag, l.Say("lang"))
	}
	l := Words.Language(translation.English)
	for _, f := range form.Faults {
		for _, part := range []string{"title", "looks", "why", "do"} {
			assert.NotEmpty(t, l.Say(f.ID+"_"+part), "%s %s", f.ID, part)
		}
		right, wrong := drawFault(l, f.ID, form.DefaultScheme)
		assert.NotEmpty(t, right, f.ID)
		assert.NotEqual(t, right, wrong, f.ID)
		for _, svg := range []string{string(right), string(wrong)} {
			_, err := html.Parse(strings.NewReader(svg))
			require.NoError(t, err)
		}
	}
	for _, v := range Versions {
		for _, key := range []string{"help", "sock", "tape", "start", "both", "leg", "tucked"} {
			assert.NotEmpty(t, l.Say("how_"+strings.ToLower(v)+"_"+key))
		}
	}
}

func TestOwnFigureIsSaidWithItsInterval(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Teach(&b, Words.Language(translation.English), []Lesson{
		{"outline-broken", stats.Estimate{Point: 0.061, Low: 0.012, High: 0.123, Level: 0.95, N: 1340, Method: "adjusted risk difference"}},
		{"outline-doubled", stats.Missing(3, "adjusted risk difference", "needs more")}, {Fault: "sides-copied"}}, Papers[0], form.DefaultScheme))
	assert.Contains(t, b.String(), "6.1 more of 100 orders")
	assert.Contains(t, b.String(), "(1.2 to 12.3, at 95 % confidence; 1,340 orders; all faults and the kind of boot weighed together)")
	assert.Contains(t, b.String(), "does not prove that it causes")
	assert.Equal(t, 1, strings.Count(b.String(), "too few orders to tell yet"))
	assert.Equal(t, 2, strings.Count(b.String(), `class="own"`))
	e := stats.Estimate{Point: -0.02, Low: -0.072, High: 0.03, Level: 0.95, N: 100, Method: "m"}
	assert.Contains(t, own(Words.Language(translation.English), e), "no clear difference shows yet: -2.0 of 100 more remade with it than without, and anything from -7.2 to 3.0 fits")
	e.High = -0.004
	assert.Contains(t, own(Words.Language(translation.English), e), "fewer were remade with it than without: 2.0 of 100 (0.4 to 7.2")
}
