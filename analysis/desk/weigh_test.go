package desk

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
)

// foreseen is a risk of which a call-back avoids so much on average; NaN: there is
// nothing to mend.
func foreseen(avoids float64) risk.OrderRisk {
	r := risk.OrderRisk{Risk: stats.Estimate{Point: 0.1}, Avoids: stats.Estimate{Point: avoids}}
	if math.IsNaN(avoids) {
		r.Avoids = stats.Missing(100, "test", "there is nothing to mend")
	}
	return r
}

// A call-back for 20 about a remake of 400 pays from 5 remakes avoided in 100.
func TestCostsDecideAboutDoubts(t *testing.T) {
	threshold := ByCosts(risk.Price{Remake: 400, Call: 20, Success: 0.7})
	assert.InDelta(t, 0.05, threshold.Least, 1e-15)
	assert.Contains(t, threshold.From, "5.0 remakes in 100")
	c := model.Check(goodForm(t), nil, 0)
	odd := goodForm(t)
	odd.Numbers[2].ValueMM = -3
	weighed := func(f Facts, c *body.Check, avoids float64, t Threshold) Decision {
		d := Decide(f, c)
		d.Weigh(foreseen(avoids), t, c)
		return d
	}
	broken := Facts{FormID: "A1", Faults: []string{"outline-broken"}}

	d := weighed(broken, c, 0.06, threshold)
	assert.Equal(t, MeasureAgain, d.Verdict)
	assert.True(t, d.TraceAgain)
	assert.Contains(t, d.Weighed(), "worth it: it can be expected to avoid 6.0 remakes")

	d = weighed(broken, c, 0.04, threshold)
	assert.Equal(t, Cut, d.Verdict)
	assert.False(t, d.TraceAgain)
	assert.Empty(t, d.Reasons)
	assert.Equal(t, []string{"the outline has a gap: the foot has to be traced again"}, d.LetThrough)
	assert.Contains(t, d.Weighed(), "let through")
	assert.Contains(t, d.Weighed(), "a call-back costs 20 and a remake 400")

	d = weighed(broken, c, math.NaN(), threshold)
	assert.Equal(t, Cut, d.Verdict, "what raises no risk is not worth a call")

	for name, of := range map[string]struct {
		Facts
		*body.Check
	}{
		"a number is missing":        {Facts{Missing: []form.Place{{Point: form.Ball}}, Faults: broken.Faults}, c},
		"a rule is in force":         {Facts{Rules: []string{"tall boots"}, Faults: broken.Faults}, c},
		"an orthotic, not discussed": {Facts{Faults: []string{"orthotic-undiscussed", "outline-broken"}}, c},
		"the numbers are no foot":    {broken, model.Check(odd, nil, 0)},
	} {
		d = weighed(of.Facts, of.Check, 0, threshold)
		assert.Equal(t, MeasureAgain, d.Verdict, name)
		assert.True(t, d.TraceAgain, "%s: the call is made anyway, so all is asked", name)
		assert.Empty(t, d.LetThrough, name)
		assert.Empty(t, d.Weighed(), name)
	}

	d = weighed(Facts{Faults: []string{"sides-copied"}}, c, 0.2, threshold)
	assert.Equal(t, MeasureAgain, d.Verdict, "worth a call though no number is in doubt by itself")
	assert.NotEmpty(t, d.TakeAgain)
	assert.Contains(t, d.Reasons[0], "left and right agree")
	assert.Equal(t, Cut, weighed(Facts{Faults: []string{"sides-copied"}}, c, 0.04, threshold).Verdict)

	without := ByCosts(risk.Price{Remake: math.NaN(), Why: "what a remake costs is not known"})
	d = weighed(broken, c, 0.01, without)
	assert.Equal(t, MeasureAgain, d.Verdict, "without costs every doubt holds")
	assert.Equal(t, "every doubt holds a form, since what a remake costs is not known", d.Weighed())
	assert.Equal(t, Cut, weighed(Facts{}, c, 0.9, without).Verdict)
}

// Of ten first forms three are held anyway; a share leaves room for the doubts that
// are worth most, never for one that does not pay.
func TestAtMostAShareIsHeld(t *testing.T) {
	firm := []bool{true, false, false, true, false, false, true, false, false, false}
	avoids := []float64{0, 0.01, 0.09, 0, 0.05, 0, 0, 0.20, 0.02, 0.09}
	held := func(t Threshold) (n int) {
		for i, f := range firm {
			if f || avoids[i] >= t.Least {
				n++
			}
		}
		return n
	}
	costs := ByCosts(risk.Price{Remake: 400, Call: 12}) // pays from 3 in 100
	assert.Equal(t, 7, held(costs))
	assert.Equal(t, 4, held(costs.BySharing(0.5, firm, avoids)), "of two that are alike none is taken rather than too many")
	assert.Equal(t, 6, held(costs.BySharing(0.6, firm, avoids)))
	all := costs.BySharing(0.9, firm, avoids)
	assert.Equal(t, 7, held(all), "no more than pay")
	assert.Equal(t, costs.Least, all.Least)
	none := costs.BySharing(0.2, firm, avoids)
	assert.Equal(t, 3, held(none))
	assert.Contains(t, none.From, "no doubt holds one")
	unpaid := EveryDoubt("what a remake costs is not known").BySharing(0.6, firm, avoids)
	assert.True(t, unpaid.Given)
	assert.Equal(t, 6, held(unpaid), "a share needs no costs")
	assert.Equal(t, costs, costs.BySharing(0.5, nil, nil), "without a form of the past there is nothing to count")
}

// The verdicts in force on past forms, and what they would be otherwise.
func TestLinesOfTheScorecard(t *testing.T) {
	w, o := form.With, form.Without
	said := make([]rules.Applied, saidParts+1)
	said[saidTape].Held = []form.State{w, o, o, o, w, form.NotAtRisk}
	said[saidDoubt].Held = []form.State{w, w, w, o, w, form.NotAtRisk}
	said[saidFirm].Held = []form.State{w, o, o, o, o, form.NotAtRisk}
	said[saidParts].Held = []form.State{o, o, o, o, o, form.NotAtRisk}
	avoids := []float64{0, 0.1, 0.01, 0.2, 0.01, 0.9}
	lines := Lines(said, avoids, Threshold{Given: true, Least: 0.05, From: "costs"})
	by := map[string][]form.State{}
	for _, l := range lines {
		by[l.Verdict] = l.Held
	}
	none := form.NotAtRisk
	assert.Equal(t, []form.State{w, o, o, w, o, none}, by[string(MeasureAgain)])
	assert.Equal(t, []form.State{o, w, o, o, o, none}, by[string(Ask)])
	assert.Equal(t, []form.State{w, w, o, w, o, none}, by[HeldVerdict])
	assert.Equal(t, said[saidDoubt].Held, by[EveryDoubtHeld])
	assert.Equal(t, said[saidFirm].Held, by[FirmHeld])
	assert.Equal(t, "costs", lines[2].InForce)
	assert.True(t, lines[2].Picked)

	lines = Lines(said, nil, EveryDoubt("no costs"))
	assert.Equal(t, said[saidDoubt].Held, lines[2].Held, "without costs every doubt holds")
	assert.False(t, lines[2].Picked)
	assert.Len(t, lines, 4)
}
