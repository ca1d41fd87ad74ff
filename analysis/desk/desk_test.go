package desk

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body"
	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

var model = body.NewModel(form.Scheme{})

// goodForm draws forms until one raises no alarm.
func goodForm(t *testing.T) form.Form {
	r := rand.New(rand.NewPCG(1, 2))
	for {
		f, err := human.Draw(r, human.Drawing{Sex: form.Male, Heights: []float64{177.8, 228.6, 279.4, 330.2}, Step: 1})
		require.NoError(t, err)
		f.ID = "A1"
		if c := model.Check(f, nil, 0.01); !c.Alarm && c.NothingOff > 0.9 {
			return f
		}
	}
}

func TestGoodFormIsCut(t *testing.T) {
	d := Decide(Facts{FormID: "A1"}, model.Check(goodForm(t), nil, 0))
	assert.Equal(t, Cut, d.Verdict)
	assert.False(t, d.Held())
	assert.True(t, d.Complete)
	assert.Empty(t, d.Doubts)
	assert.Empty(t, d.TakeAgain)
	assert.Empty(t, d.Reasons)
}

func TestOneInchIsMeasuredAgain(t *testing.T) {
	f := goodForm(t)
	for i := range f.Numbers {
		if f.Numbers[i].Point == form.Ball && f.Numbers[i].Side == form.Left {
			f.Numbers[i].ValueMM += 25.4 + 12
		}
	}
	d := Decide(Facts{FormID: "A1"}, model.Check(f, nil, 0))
	assert.Equal(t, MeasureAgain, d.Verdict)
	require.NotEmpty(t, d.Doubts)
	assert.Equal(t, form.Ball, d.Doubts[0].Point)
	assert.Equal(t, form.Left, d.Doubts[0].Side)
	places := map[string]bool{}
	for _, p := range d.TakeAgain {
		places[p.Side.String()+" "+p.Point.String()] = true
	}
	assert.True(t, places["left ball"] && places["right ball"], "both feet are asked for: %v", places)
	for i := 1; i < len(d.Doubts); i++ {
		assert.LessOrEqual(t, d.Doubts[i].Gain, d.Doubts[i-1].Gain)
	}
}

func TestUnitIsAQuestion(t *testing.T) {
	f := goodForm(t)
	for i := range f.Numbers {
		if f.Numbers[i].Point == form.Length {
			f.Numbers[i].ValueMM = math.Round(f.Numbers[i].ValueMM / 2.54)
		}
	}
	d := Decide(Facts{FormID: "A1"}, model.Check(f, nil, 0))
	assert.Equal(t, Ask, d.Verdict)
	assert.Equal(t, "unit", d.Doubts[0].Hypothesis)
	assert.Empty(t, d.TakeAgain)
}

func TestMissingAndFaults(t *testing.T) {
	missing := []form.Place{{Point: form.Leg, HeightMM: 381}}
	c := model.Check(goodForm(t), nil, 0)
	d := Decide(Facts{FormID: "A1", Missing: missing, Faults: []string{"outline-broken"}}, c)
	assert.Equal(t, MeasureAgain, d.Verdict)
	assert.False(t, d.Complete)
	assert.Equal(t, missing, d.TakeAgain)
	assert.True(t, d.TraceAgain)
	assert.Len(t, d.Reasons, 2)

	d = Decide(Facts{FormID: "A1", Faults: []string{"orthotic-undiscussed"}}, c)
	assert.Equal(t, Ask, d.Verdict)
	d = Decide(Facts{FormID: "A1", Faults: []string{"tape-zero-missed"}}, c)
	assert.Equal(t, MeasureAgain, d.Verdict)
	assert.Len(t, d.TakeAgain, 16, "ball, instep, heel, ankle and four leg girths on both sides")
	d = Decide(Facts{FormID: "A1", Faults: []string{"tucked-set-skipped"}}, c)
	assert.Equal(t, MeasureAgain, d.Verdict)
	require.Len(t, d.TakeAgain, 8, "four heights on both sides")
	for _, p := range d.TakeAgain {
		assert.Equal(t, form.Tucked, p.Clothing)
		assert.Equal(t, form.Leg, p.Point)
	}
	d = Decide(Facts{FormID: "A1", Rules: []string{"Tall boots from home"}}, c)
	assert.Equal(t, Ask, d.Verdict)
	assert.Contains(t, d.Reasons[0], "Tall boots from home")
}

func TestImpossibleNumber(t *testing.T) {
	f := goodForm(t)
	f.Numbers[2].ValueMM = -3
	d := Decide(Facts{FormID: "A1"}, model.Check(f, nil, 0))
	assert.Equal(t, MeasureAgain, d.Verdict)
	assert.True(t, d.Alarm)
	require.NotEmpty(t, d.TakeAgain)
}

// TestJSON keeps the field names that other programs rely on, and null for
// what can't be given.
func TestJSON(t *testing.T) {
	b, err := json.Marshal(Checked{Forms: []Decision{Decide(Facts{FormID: "E"}, model.Check(form.Form{ID: "E"}, nil, 0))}})
	require.NoError(t, err)
	var doc struct{ Forms []map[string]any }
	require.NoError(t, json.Unmarshal(b, &doc))
	for _, k := range []string{"form_id", "verdict", "complete", "missing", "alarm_score", "alarm", "doubts"} {
		assert.Contains(t, doc.Forms[0], k)
	}
	assert.Nil(t, doc.Forms[0]["alarm_score"])
	assert.Equal(t, []any{}, doc.Forms[0]["missing"])
	assert.Equal(t, []any{}, doc.Forms[0]["doubts"])
}
