package review

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body"
	"lastroom/analysis/body/human"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/reports/page"
)

// explained is a drawn form whose left ball girth is an inch and a half off, with
// one earlier form of the same person's sex.
func explained(t *testing.T) Explained {
	t.Helper()
	r := rand.New(rand.NewPCG(5, 6))
	draw := func() form.Form {
		f, err := human.Draw(r, human.Drawing{Sex: form.Male, Heights: []float64{177.8, 228.6, 279.4}, Calf: true, Step: 1})
		require.NoError(t, err)
		return f
	}
	f := draw()
	f.ID = "F<1>"
	for i := range f.Numbers {
		if n := &f.Numbers[i]; n.Point == form.Ball && n.Side == form.Left {
			n.ValueMM += 38
		}
	}
	m := body.NewModel(form.Scheme{})
	c := m.Check(f, nil, 0.01)
	d := desk.Decide(desk.Facts{FormID: f.ID, Missing: []form.Place{{Point: form.Leg, HeightMM: 330.2}}}, c)
	return Explained{Decision: d, Check: c, Form: f, Model: m, Facts: [][2]string{{"order", "O1"}},
		Past: []PastForm{{Form: draw(), Order: "O0", Received: 20000}}, Settings: [][2]string{{"ankle girth", "least"}}, Calibration: m.Calibrate(nil)}
}

func TestExplainPage(t *testing.T) {
	x := explained(t)
	d := ExplainPage(x)
	assert.Equal(t, "Form F<1>: measure again", d.Title)
	var b bytes.Buffer
	require.NoError(t, page.HTML(&b, d))
	s := b.String()
	assert.NotContains(t, s, "<1>", "ids stay text")
	assert.GreaterOrEqual(t, strings.Count(s, "<svg"), 2, "the foot and the leg are drawn")
	b.Reset()
	require.NoError(t, page.WriteText(&b, d, page.TextOptions{}))
	s = b.String()
	for _, want := range []string{"Missing for the ordered boot: left leg girth at 330 mm (13 in)", "left ball", "Expected", "O0, 2024-10-04",
		"ankle girth", "2012 survey of US Army personnel", "published values", "Judgement", "licensed care", "private", "no diagnosis"} {
		assert.Contains(t, s, want)
	}
	assert.NotContains(t, s, "NaN")
}

func TestExplainEmptyForm(t *testing.T) {
	x := explained(t)
	x.Form.Numbers = nil
	x.Check = x.Model.Check(x.Form, nil, 0)
	x.Decision = desk.Decide(desk.Facts{FormID: "E"}, x.Check)
	x.Past, x.Settings, x.Calibration, x.Facts = nil, nil, nil, nil
	var b bytes.Buffer
	require.NoError(t, page.WriteText(&b, ExplainPage(x), page.TextOptions{}))
	assert.Contains(t, b.String(), "common practice")
	assert.Contains(t, b.String(), "No earlier form")
	assert.Contains(t, b.String(), "could be judged", "nothing is said to be well that was not looked at")
	assert.NotContains(t, b.String(), "NaN")
}
