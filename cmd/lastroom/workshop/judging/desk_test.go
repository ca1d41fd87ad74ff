package judging

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/typed"
	"lastroom/reports/letter"
)

// With a book, the customer's earlier orders are there, the shop's own values
// are used, and the rules in force hold forms.
func TestDeskWithABook(t *testing.T) {
	list, err := judgedShop()
	require.NoError(t, err)
	require.NotNil(t, shopDesk.calibration)
	require.True(t, shopDesk.calibration.Channels[form.Home].Enough)
	past, ruled, letters := 0, 0, 0
	for _, f := range list {
		if len(f.past) > 0 {
			past++
			assert.NotEqual(t, f.Order, f.past[0].Order)
			assert.Positive(t, f.past[0].years)
		}
		if len(f.Decision.Rules) > 0 {
			ruled++
			assert.NotEqual(t, desk.Cut, f.Decision.Verdict)
		}
		if f.Decision.Verdict == desk.MeasureAgain {
			letters++
			assert.True(t, len(f.Decision.TakeAgain) > 0 || f.Decision.TraceAgain, f.ID)
		}
	}
	assert.Positive(t, past)
	assert.Positive(t, ruled)
	assert.Positive(t, letters)
	t.Logf("%d forms, %d with history, %d held by a rule, %d to measure again", len(list), past, ruled, letters)
}

// Every held form of the invented workshop has a letter, and each reason that holds
// it its question there.
func TestLettersAskAllThatHoldsAForm(t *testing.T) {
	list, err := judgedShop()
	require.NoError(t, err)
	held, words := 0, 0
	for _, f := range list {
		l, ok := shopDesk.Letter(letter.English(), f)
		require.Equal(t, f.Decision.Held(), ok, f.ID)
		if !ok {
			continue
		}
		held++
		ask, _ := letter.FromDecision(f.Decision, f.Received, form.Inch)
		asked := map[string]bool{}
		for _, q := range ask.Questions {
			asked[q.Key] = true
		}
		boxes := 0
		for _, r := range l.Rows {
			if r.Left {
				boxes++
			}
			if r.Right {
				boxes++
			}
		}
		require.Equal(t, len(f.Decision.TakeAgain), boxes, f.ID)
		require.Len(t, l.Answers, len(ask.Questions))
		for _, p := range f.Decision.Missing {
			require.Contains(t, f.Decision.TakeAgain, p, f.ID)
		}
		for _, id := range f.Decision.Faults {
			i, _ := form.FaultIndex(id)
			switch form.Faults[i].Asks {
			case form.Answer:
				question := map[string]string{"self-measured": letter.AskAlone, "orthotic-undiscussed": letter.AskOrthotic}[id]
				require.True(t, asked[question] || id == "tape-marks-missing" && strings.Contains(l.Tracing, "tape's place"), "%s: %s", f.ID, id)
			case form.Tracing:
				require.NotEmpty(t, l.Tracing, f.ID)
			case form.Girths, form.OverTrousers:
				require.NotEmpty(t, l.Rows, f.ID)
			}
		}
		require.True(t, len(f.Decision.Rules) == 0 || asked[letter.AskHow], f.ID)
		require.True(t, len(f.Decision.Cautions) == 0 || asked[letter.AskSwelling], f.ID)
		if f.Decision.Alarm {
			require.True(t, len(l.Rows) > 0 || asked[letter.AskUnit] || asked[letter.AskExchanged] || asked[letter.AskTrousers], f.ID)
		}
		if len(l.Rows) == 0 {
			words++
		}
	}
	require.Positive(t, words)
	t.Logf("%d of %d forms are held, each with a letter; %d of these take no number", held, len(list), words)
}

// The evidence in the book and the desk agree where both use published values: on a
// quarter of the forms, with CI=true on all.
func TestDeskAgreesWithTheBook(t *testing.T) {
	r, err := workshop.OpenReader(t.Context(), demoBook(t), cohort.NoDay)
	require.NoError(t, err)
	defer r.Close()
	d := &Desk{model: body.Published(form.Scheme{}), falseAlarms: body.DefaultFalseAlarms}
	of := "hash(form_id) % 4 = 0"
	if breadth.Wide() {
		of = ""
	}
	list, err := d.judge(t.Context(), r, of)
	require.NoError(t, err)
	require.Greater(t, len(list), orders/5)
	for _, f := range list {
		states := statesOf(f.Faults, f.check.Evidence)
		assert.Equal(t, f.Faults, states, f.ID)
	}
}

// The model of a desk serves the next one where the shop's own forms are the same, and
// is made anew where they are not; with CI=true the same as without one before.
func TestModelServesOn(t *testing.T) {
	desk := func(asOf cohort.Day, before *Desk) *Desk {
		w, err := workshop.Open(workshop.Setup{Book: demoBook(t)})
		require.NoError(t, err)
		s, err := w.Look(t.Context(), asOf)
		require.NoError(t, err)
		d, err := New(t.Context(), s, nil, body.DefaultFalseAlarms, before)
		require.NoError(t, err)
		t.Cleanup(func() { d.Close() })
		return d
	}
	_, err := judgedShop()
	require.NoError(t, err)
	first := shopDesk
	next := desk(cohort.NoDay, first)
	assert.Same(t, first.model, next.model)
	yearBefore := first.Book().AsOf() - 365
	earlier := desk(yearBefore, next)
	assert.NotSame(t, first.model, earlier.model)
	if breadth.Wide() {
		assert.Equal(t, desk(yearBefore, nil).model.Name(), earlier.model.Name())
	}
	assert.NotEqual(t, first.model.Name(), earlier.model.Name())
}

func BenchmarkCheckOneForm(b *testing.B) {
	d := &Desk{model: body.NewModel(form.Scheme{}), falseAlarms: body.DefaultFalseAlarms}
	var numbers []form.Number
	for i, p := range form.Points[:form.Leg] {
		x := []float64{246, 95, 234, 243, 308, 216, 373}[i]
		for k, side := range form.Sides {
			numbers = append(numbers, form.Number{Place: form.Place{Side: side, Point: p}, ValueMM: x + float64(k)})
		}
	}
	f := orderbook.DeskForm{ID: "F", Sex: "f", Channel: "home", Numbers: numbers, Faults: make([]form.State, len(form.Faults))}
	for b.Loop() {
		d.one(f, nil, nil)
	}
}

// A form that is typed in is judged as the same form on sheets is, with its
// faults, doubts and what is missing.
func TestTypedAsOnSheets(t *testing.T) {
	d, err := Open(t.Context(), Setup{AsOf: cohort.NoDay, FalseAlarms: body.DefaultFalseAlarms}, workshop.Silent)
	require.NoError(t, err)
	defer d.Close()
	dir := t.TempDir()
	write := func(name string, rows ...string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".csv"), []byte(strings.Join(rows, "\n")+"\n"), 0o600))
	}
	write("orders", "order_id,received_on,shaft_height_in,closure,worn_tucked,sock,orthotic,channel,sex", "typed,2026-09-01,9,pull-on,yes,thin,yes,home,f")
	write("forms", "form_id,order_id,form_no,received_on,self_measured,outline_closed_left,tape_zero_used", "typed,typed,1,2026-09-01,no,no,yes")
	rows := []string{"form_id,side,clothing,point,height,height_unit,value,unit"}
	filled := typed.Form{
		Order: map[string]string{"received_on": "2026-09-01", "shaft_height_in": "9", "closure": "pull-on", "worn_tucked": "yes", "sock": "thin", "orthotic": "yes", "channel": "home", "sex": "f"},
		Form:  map[string]string{"received_on": "2026-09-01", "self_measured": "no", "outline_closed_left": "no", "tape_zero_used": "yes"},
	}
	for i, p := range form.Points[:form.Leg] {
		for k, side := range form.Sides {
			cm := []string{"24.6", "9.5", "23.4", "24.3", "30.8", "21.6", "37.3"}[i]
			if p == form.Ball && side == form.Left {
				cm = "26.9" // about an inch and a half too large
			}
			if p == form.Instep && k == 1 {
				continue // missing
			}
			rows = append(rows, strings.Join([]string{"typed", side.String(), "bare", p.String(), "", "", cm, "cm"}, ","))
			filled.Numbers = append(filled.Numbers, TypedNumber(form.Place{Side: side, Point: p}, cm, form.Centimetre))
		}
	}
	write("measurements", rows...)
	forms, report, err := d.ReadSheets(t.Context(), load.Options{Paths: []string{dir}}, cohort.NoDay, workshop.Silent)
	require.NoError(t, err)
	defer forms.Close()
	require.Empty(t, report.KeptOut)
	list, err := d.Judge(t.Context(), forms.Reader, "")
	require.NoError(t, err)
	require.Len(t, list, 1)
	got, err := d.JudgeTyped(t.Context(), filled)
	require.NoError(t, err)
	assert.Equal(t, list[0].Decision, got.Decision)
	assert.Equal(t, list[0].DeskForm, got.DeskForm)
	assert.Equal(t, desk.MeasureAgain, got.Decision.Verdict)
	assert.NotEmpty(t, got.Decision.Missing)
	assert.NotEmpty(t, got.Decision.Doubts)
	assert.Contains(t, got.Decision.Faults, "outline-broken")

	filled.Numbers[0]["value"] = "wide"
	_, err = d.JudgeTyped(t.Context(), filled)
	assert.ErrorContains(t, err, `value "wide"`)
}

// What a key press at the desk costs: the page's form judged with the invented
// workshop's book, its rules and its own values.
func BenchmarkTypedForm(b *testing.B) {
	dir, err := invented()
	require.NoError(b, err)
	d, err := Open(b.Context(), Setup{Book: filepath.Join(dir, "shop.duckdb"), AsOf: cohort.NoDay, FalseAlarms: body.DefaultFalseAlarms}, workshop.Silent)
	require.NoError(b, err)
	defer d.Close()
	filled := typed.Form{Order: map[string]string{"shaft_height_in": "9", "closure": "pull-on", "channel": "home", "sex": "f"}, Form: map[string]string{"self_measured": "no"}}
	for i, p := range form.Points[:form.Leg] {
		for _, side := range form.Sides {
			filled.Numbers = append(filled.Numbers, TypedNumber(form.Place{Side: side, Point: p}, []string{"24.6", "9.5", "26.9", "24.3", "30.8", "21.6", "37.3"}[i], form.Centimetre))
		}
	}
	for b.Loop() {
		if _, err := d.JudgeTyped(b.Context(), filled); err != nil {
			b.Fatal(err)
		}
	}
}
