package body

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/body/testdata/ansur"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

// A devCase is a form of ../shared/ansur2/sheets-dev with its known fault. The
// labels are read by tests only.
type devCase struct {
	form        form.Form
	fault       string
	side, field string
}

func readDev(t testing.TB) []devCase {
	labels := ansur.Rows(t, "labels-dev.csv")
	orders := ansur.Rows(t, "sheets-dev/orders.csv")
	rows := ansur.Rows(t, "sheets-dev/measurements.csv")
	sex := map[string]form.Sex{}
	for _, o := range orders[1:] {
		sex[o[0]] = form.ParseSex(o[11])
	}
	at := map[string]int{}
	var out []devCase
	for _, l := range labels[1:] {
		at[l[0]] = len(out)
		out = append(out, devCase{form: form.Form{ID: l[0], Sex: sex["O"+l[0]]}, fault: l[1], side: l[2], field: l[3]})
	}
	for _, r := range rows[1:] {
		side, _ := form.ParseSide(r[1])
		point, _ := form.ParsePoint(r[3])
		mm, err := strconv.ParseFloat(r[6], 64)
		require.NoError(t, err)
		f := &out[at[r[0]]].form
		f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: side, Point: point}, ValueMM: mm, Written: r[6]})
	}
	return out
}

func batchOf(forms []form.Form) *Batch {
	b := new(Batch)
	for _, f := range forms {
		for _, n := range f.Numbers {
			b.Add(n)
		}
		b.EndForm(f.Sex, f.Channel)
	}
	return b
}

// goals are the goal figures of the benchmark's section 6, per cent at 1 %
// false alarms. 0: no claim.
var goals = map[string]float64{
	"a_all_girths_+10": 0, "a_all_girths_+20": 45, "a_all_girths_+25.4": 73, "a_all_girths_-25.4": 69,
	"b_inches_as_cm_one_girth": 99.5, "b_swap_first_two_digits": 99.5, "b_swap_last_two_digits": 70,
	"c_one_girth_1in": 88, "c_one_girth_half_in": 15, "d_ball_-5pct_both": 0, "d_ball_-5pct_one_side": 25,
	"e_swap_ball_ankle": 77, "e_swap_ball_ankle_both": 62, "e_swap_ball_heel": 99.5, "e_swap_heel_calf": 94,
	"f_trace_+6": 0, "f_trace_-4": 0, "g_length_inches_as_cm": 99.5, "h_copied_R_to_L": 99.5,
}

// TestDevelopmentCases measures detection on the development cases, sex given
// and not: mean over the faults at least 60.1 and 59.2 %, a point under what it
// is when unusual people are not thought of (61.1 and 60.2), and not above 64 %,
// which would be tuning; none more than 9 points under its goal.
func TestDevelopmentCases(t *testing.T) {
	cases := readDev(t)
	for _, known := range []bool{true, false} {
		var forms []form.Form
		for _, c := range cases {
			if !known {
				c.form.Sex = form.SexUnknown
			}
			forms = append(forms, c.form)
		}
		ev := NewModel(form.Scheme{}).NewAuditor(0.01).Audit(batchOf(forms), nil)
		n, hit, wide := map[string]float64{}, map[string]float64{}, 0.0
		for i, c := range cases {
			n[c.fault]++
			if ev[i].Score >= 2 {
				hit[c.fault]++
			}
			if c.fault == "none" && ev[i].OutOfRange == Yes {
				wide++
			}
		}
		mean := 0.0
		for f, goal := range goals {
			rate := 100 * hit[f] / n[f]
			mean += rate / float64(len(goals))
			assert.GreaterOrEqual(t, rate, goal-9, "%s, sex known %v", f, known)
		}
		false_, out := hit["none"]/n["none"], wide/n["none"]
		t.Logf("sex known %v: mean detection %.2f %%, false alarms %.2f %%, out of range %.2f %% of good forms", known, mean, 100*false_, 100*out)
		least := 59.2
		if known {
			least = 60.1
		}
		assert.GreaterOrEqual(t, mean, least)
		assert.LessOrEqual(t, mean, 64.0)
		assert.LessOrEqual(t, false_, 0.012)
		assert.LessOrEqual(t, out, 0.02)
	}
}

// simulated makes good forms from the survey's rows with the benchmark's
// measurement model.
func simulated(r *rand.Rand, rows [][human.FeatureCount]float64, n int, sex form.Sex, me human.Measuring) (out []form.Form) {
	for k := range n {
		y := me.Measure(r, me.Sides(r, rows[k%len(rows)]), 1)
		f := form.Form{Sex: sex}
		for i, mm := range y {
			f.Numbers = append(f.Numbers, form.Number{Place: form.Place{Side: form.Side(i / human.FeatureCount), Point: human.FeaturePoint[i%human.FeatureCount]}, ValueMM: mm})
		}
		out = append(out, f)
	}
	return out
}

// TestFalseAlarms measures false alarms on good forms of each sex made from the
// survey's rows: within 0.7-1.3 % at the 1 % setting. With CI=true 21,000 or more,
// otherwise a third of them, whose Monte Carlo error is 0.12 %.
func TestFalseAlarms(t *testing.T) {
	all := ansur.Read(t)
	m := NewModel(form.Scheme{})
	for _, sex := range []form.Sex{form.Female, form.Male} {
		for _, given := range []form.Sex{sex, form.SexUnknown} {
			rows := all[sex].MM
			n := len(rows) * (breadth.Few(6_000, 21_000)/len(rows) + 1)
			forms := simulated(rand.New(rand.NewPCG(7, uint64(sex))), rows, n, given, human.Published(form.Home))
			alarms, rare, wide := 0, 0, 0
			for _, e := range m.NewAuditor(0.01).Audit(batchOf(forms), nil) {
				if e.Score >= 2 {
					alarms++
				}
				if e.Score >= -math.Log10(0.002) {
					rare++
				}
				if e.OutOfRange == Yes {
					wide++
				}
			}
			rate, out := float64(alarms)/float64(n), float64(wide)/float64(n)
			t.Logf("people %d, sex given as %d: false alarms %.3f %% (%.3f %% at 0.2 %%), out of range %.3f %% of %d", sex, given, 100*rate, 100*float64(rare)/float64(n), 100*out, n)
			assert.LessOrEqual(t, float64(rare)/float64(n), 0.0035)
			assert.InDelta(t, 0.01, rate, 0.003)
			assert.Less(t, out, 0.02)
		}
	}
}

// TestNamesTheNumber: in flagged forms with one wrong number, the measure of
// the first doubt is the faulted one (either foot) as often as the benchmark's
// section 5.7 says is possible, within 3 points; with CI=true on five times as many forms.
func TestNamesTheNumber(t *testing.T) {
	all := ansur.Read(t)
	r := rand.New(rand.NewPCG(11, 12))
	kinds := []struct {
		name     string
		possible float64
		forms    int
		spoil    func(n *form.Number)
	}{
		{"one inch", 99.9, breadth.Few(100, 500), func(n *form.Number) { n.ValueMM += 25.4 * float64(2*r.IntN(2)-1) }},
		{"half an inch", 97, breadth.Few(600, 3000), func(n *form.Number) { n.ValueMM += 12.7 * float64(2*r.IntN(2)-1) }},
		{"last digits", 99.6, breadth.Few(120, 600), func(n *form.Number) {
			if y, _ := otherDigits(n.ValueMM, form.Millimetre); y > 0 {
				n.ValueMM = y
			}
		}},
		{"ball 5 % short", 98, breadth.Few(300, 1500), func(n *form.Number) { n.ValueMM *= 0.95 }},
	}
	m := NewModel(form.Scheme{})
	for _, k := range kinds {
		forms := simulated(r, all[form.Male].MM, k.forms, form.Male, human.Published(form.Home))
		flagged, right := 0.0, 0.0
		for i := range forms {
			at := human.AtBall + r.IntN(human.FeatureCount-human.AtBall)
			if k.name == "ball 5 % short" {
				at = human.AtBall
			}
			n := &forms[i].Numbers[at+human.FeatureCount*r.IntN(2)]
			k.spoil(n)
			n.ValueMM = math.Round(n.ValueMM)
			c := m.Check(forms[i], nil, 0.01)
			if !c.Alarm {
				continue
			}
			flagged++
			if d := c.Doubts(0.001); len(d) > 0 && c.Readings[d[0].Index].Point == n.Point {
				right++
			}
		}
		t.Logf("%s: %.0f flagged, %.1f %% named", k.name, flagged, 100*right/flagged)
		assert.GreaterOrEqual(t, 100*right/flagged, k.possible-3, k.name)
	}
}

func BenchmarkAudit(b *testing.B) {
	var forms []form.Form
	for _, c := range readDev(b) {
		if c.fault == "none" {
			forms = append(forms, c.form)
		}
	}
	a := NewModel(form.Scheme{}).NewAuditor(0.01)
	batch := batchOf(forms)
	out := a.Audit(batch, nil)
	b.ReportAllocs()
	for b.Loop() {
		out = a.Audit(batch, out[:0])
	}
	b.ReportMetric(float64(len(batch.MM))*float64(b.N)/b.Elapsed().Seconds(), "numbers/s")
}
