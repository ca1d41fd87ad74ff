package letter

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
)

func place(side form.Side, clothing form.Clothing, point form.Point, height ...form.Height) form.Place {
	p := form.Place{Side: side, Clothing: clothing, Point: point}
	if len(height) > 0 {
		p.HeightMM = height[0]
	}
	return p
}

var day = func() cohort.Day { d, _ := cohort.ParseDay("2026-09-03"); return d }()

// oneLeg asks for the ball of both feet and one leg girth.
func oneLeg() Ask {
	return Ask{FormID: "F7", Received: day, Unit: form.Inch, Places: []form.Place{
		place(form.Left, form.Bare, form.Leg, 279.4), place(form.Right, form.Bare, form.Ball), place(form.Left, form.Bare, form.Ball)}}
}

func text(t *testing.T, l *Letter) string {
	var b bytes.Buffer
	require.NoError(t, l.Text(&b))
	return b.String()
}

// flat is the text on one line.
func flat(t *testing.T, l *Letter) string { return strings.Join(strings.Fields(text(t, l)), " ") }

func TestAsksExactlyForWhatIsNeeded(t *testing.T) {
	s := text(t, Write(English(), oneLeg()))
	assert.Contains(t, s, "F7")
	assert.Contains(t, s, "2026-09-03")
	assert.Regexp(t, `(?m)^  Ball girth +________ +________$`, s)
	assert.Regexp(t, `(?m)^  Leg girth at 11 in above the floor +________ +–$`, s)
	assert.Less(t, strings.Index(s, "Ball girth"), strings.Index(s, "Leg girth"), "foot before leg")
	assert.Contains(t, s, "to the nearest eighth")
	assert.Contains(t, s, "snug but not tight")
	assert.Contains(t, s, "tape's numbers start")
	assert.Contains(t, s, "mark each height with a ruler")
	assert.Contains(t, s, "weight on both")
	assert.Contains(t, s, "socks that you will wear")
	for _, other := range []string{"Heel", "Instep", "Ankle", "trousers", "Tracing", "tracing"} {
		assert.NotContains(t, s, other, "only what is asked for is told")
	}
	for _, line := range strings.Split(s, "\n") {
		assert.LessOrEqual(t, len([]rune(line)), 76, line)
	}
}

func TestCautionsStandOnEveryLetter(t *testing.T) {
	for _, a := range []Ask{oneLeg(), {FormID: "F8", Tracing: true}} {
		s := flat(t, Write(English(), a))
		for _, want := range []string{"diabetes", "numb feet", "licensed", "swollen", "see a doctor", "private"} {
			assert.Contains(t, s, want)
		}
	}
}

func TestTracingAlone(t *testing.T) {
	s := flat(t, Write(English(), Ask{FormID: "F8", Tracing: true}))
	assert.Contains(t, s, "A new pencil tracing of both feet")
	assert.Contains(t, s, "without a second line")
	assert.NotContains(t, s, "nearest")
	assert.NotContains(t, s, "snug")
	assert.Contains(t, s, "form F8. Before", "a form without a day")
}

func TestShopSettingsChangeTheWords(t *testing.T) {
	a := Ask{FormID: "F", Unit: form.Millimetre, Places: []form.Place{place(form.Left, form.Bare, form.Heel), place(form.Left, form.Bare, form.Ankle)}}
	s := flat(t, Write(English(), a))
	assert.Contains(t, s, "bend in front of the ankle")
	assert.Contains(t, s, "just above the ankle bones")
	assert.Contains(t, s, "whole millimetres")
	a.Scheme = form.Scheme{HeelGirth: form.LongHeel, AnkleGirth: form.OverBones}
	s = flat(t, Write(English(), a))
	assert.Contains(t, s, "top of the instep")
	assert.Contains(t, s, "over both ankle bones")
}

func TestFromDecision(t *testing.T) {
	_, ok := FromDecision(desk.Decision{FormID: "F", Verdict: desk.Cut}, day, form.Inch)
	assert.False(t, ok, "nothing holds it: no letter")
	a, ok := FromDecision(desk.Decision{FormID: "F", TakeAgain: []form.Place{place(form.Left, form.Bare, form.Ball)}}, day, form.Inch)
	assert.True(t, ok)
	assert.Len(t, a.Places, 1)
	_, ok = FromDecision(desk.Decision{FormID: "F", TraceAgain: true}, day, form.Inch)
	assert.True(t, ok)
}

// What needs no tape is asked in words, in the order of the work, and each reason
// has its question.
func TestQuestionsInWords(t *testing.T) {
	share := 0.95
	d := desk.Decision{FormID: "F", Verdict: desk.Ask, Faults: []string{"self-measured", "orthotic-undiscussed"}, Cautions: []string{"a leg"}, Rules: []string{"Tall boots"},
		Doubts: []desk.Doubt{{Place: place(form.Left, form.Bare, form.Length), Hypothesis: "unit", Posterior: &share}}}
	a, ok := FromDecision(d, day, form.Inch)
	require.True(t, ok)
	var keys []string
	for _, q := range a.Questions {
		keys = append(keys, q.Key)
	}
	assert.Equal(t, []string{AskSwelling, AskOrthotic, AskAlone, AskUnit, AskHow}, keys)
	l := Write(English(), a)
	assert.Equal(t, "Please answer before we cut", l.Title)
	for _, s := range []string{flat(t, l), printed(t, l)} {
		assert.Contains(t, s, "see a doctor at once")
		assert.Contains(t, s, "inches, centimetres or millimetres")
		assert.Contains(t, s, "Foot length, from the tracing")
		assert.NotContains(t, s, "What to take")
	}
	assert.Len(t, l.Document().Sections, 4)

	a, ok = FromDecision(desk.Decision{FormID: "F", Verdict: desk.Ask, Faults: []string{"tape-marks-missing"}}, day, form.Inch)
	require.True(t, ok)
	s := flat(t, Write(English(), a))
	assert.Contains(t, s, "with the tape's place at the ball and at the instep marked")
	assert.Contains(t, s, "draw a short line")
	assert.Equal(t, "Please measure again", Write(English(), a).Title)
}

// Lengths by hand: 25.4 mm an inch exactly.

// nodes finds the elements of a page by tag and class.
func nodes(t *testing.T, page string, tag, class string) (out []*html.Node) {
	doc, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode || n.Data != tag {
			continue
		}
		have := ""
		for _, a := range n.Attr {
			if a.Key == "class" {
				have = a.Val
			}
		}
		if class == "" || have == class {
			out = append(out, n)
		}
	}
	return out
}

func printed(t *testing.T, l *Letter) string {
	var b bytes.Buffer
	require.NoError(t, l.HTML(&b))
	return b.String()
}

func TestHTML(t *testing.T) {
	p := printed(t, Write(English(), oneLeg()))
	assert.Len(t, nodes(t, p, "td", "box"), 3, "a box for each number asked for")
	assert.Len(t, nodes(t, p, "td", "none"), 1)
	assert.Len(t, nodes(t, p, "h1", ""), 1)
	assert.Len(t, nodes(t, p, "p", "for"), 1)
	assert.Empty(t, nodes(t, p, "script", ""))
	for _, ask := range []string{"http://", "https://", "url(", "@import", "<img", "<link"} {
		assert.NotContains(t, p, ask)
	}
	assert.Contains(t, p, "default-src &#39;none&#39;")
}

// What is taken bare and over trousers at one height stands on one line.
func TestOverTrousersBesideBare(t *testing.T) {
	a := Ask{FormID: "F", Unit: form.Inch}
	for _, c := range []form.Clothing{form.Tucked, form.Bare} {
		a.Places = append(a.Places, place(form.Left, c, form.Leg, 177.8), place(form.Right, c, form.Leg, 177.8))
	}
	p := printed(t, Write(English(), a))
	assert.Len(t, nodes(t, p, "td", "box"), 4)
	assert.Len(t, nodes(t, p, "tr", ""), 2)
	s := flat(t, Write(English(), a))
	assert.Contains(t, s, "Leg girth at 7 in, over trousers")
	assert.Contains(t, s, "smooth them down")
}

// Ids and words that are no markup stay text.
func TestHostileTextStaysText(t *testing.T) {
	l, err := Words.Read([]byte(`title: "<script>alert(1)</script>"`))
	require.NoError(t, err)
	a := oneLeg()
	a.FormID = `"><img src=x onerror=alert(1)>`
	p := printed(t, Write(l, a))
	assert.Empty(t, nodes(t, p, "script", ""))
	assert.Empty(t, nodes(t, p, "img", ""))
}

func TestDocument(t *testing.T) {
	d := Write(English(), oneLeg()).Document()
	assert.Equal(t, "Please measure again", d.Title)
	assert.Equal(t, "Please mind", d.Sections[3].Title, "its cautions are in its own words")
	assert.Len(t, d.Sections[3].Blocks[0], 3)
	assert.Len(t, d.Sections, 5)
}

// Every point has its words, what it is and how to take it.
func TestEveryPoint(t *testing.T) {
	for _, p := range form.Points {
		height := form.Height(0)
		if p == form.Leg {
			height = 228.6
		}
		l := Write(English(), Ask{FormID: "F", Unit: form.Inch, Places: []form.Place{place(form.Left, form.Bare, p, height)}})
		require.Len(t, l.Rows, 1)
		assert.NotEmpty(t, l.Rows[0].Where, p)
		assert.NotEmpty(t, English().Say("how_"+p.String()), p)
		if p.OverTrousers() {
			assert.NotEmpty(t, English().Say(p.String()+"_tucked"), p)
		}
	}
}

// What adds most to the remake risk is asked for first, a group at a time.
func TestWhatWeighsMostComesFirst(t *testing.T) {
	places := []form.Place{{Point: form.Ball}, {Point: form.Instep}, {Point: form.Leg, HeightMM: 228.6}, {Point: form.Leg, HeightMM: 279.4}}
	first := func(points map[string]float64) string {
		return Write(English(), Ask{FormID: "1", Unit: form.Inch, Places: places, Points: points}).Rows[0].Where
	}
	usual := first(nil)
	if got := first(map[string]float64{"foot-girth-missing": 3, "leg-height-missing": 2}); got != usual {
		t.Errorf("the foot weighs most, but %q comes first", got)
	}
	legs := Write(English(), Ask{FormID: "1", Unit: form.Inch, Places: places, Points: map[string]float64{"foot-girth-missing": 2, "leg-height-missing": 3}}).Rows
	if legs[0].Where == usual || legs[2].Where != usual {
		t.Errorf("the leg weighs most, but the order is %v", legs)
	}
}
