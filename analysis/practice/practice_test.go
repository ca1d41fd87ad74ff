package practice

import (
	"encoding/json"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

func set(t *testing.T, seed uint64, n int) *Set {
	s, err := Plan{Seed: seed, Forms: n}.Set()
	require.NoError(t, err)
	return s
}

// Faults are the ids of what is wrong with the form, in the catalogue's order.
func (f *Form) Faults() (ids []string) {
	for _, k := range f.faults {
		ids = append(ids, form.Faults[k].ID)
	}
	return ids
}

// TestSet: a seed gives the same set; of 20 forms 6 are good and every fault
// stands on two; what is planted can be seen, and the JSON has no word of it.
func TestSet(t *testing.T) {
	for seed := range uint64(30) {
		s := set(t, seed, 20)
		a, err := json.Marshal(s)
		require.NoError(t, err)
		b, _ := json.Marshal(set(t, seed, 20))
		assert.Equal(t, string(a), string(b))
		planted, good := map[string]int{}, 0
		for _, f := range s.Forms {
			good += count(len(f.faults) == 0)
			for _, id := range f.Faults() {
				planted[id]++
			}
			has := func(c form.Clothing, p form.Point) bool {
				return slices.ContainsFunc(f.Numbers, func(n form.Number) bool { return n.Clothing == c && n.Point == p })
			}
			assert.Equal(t, f.Boot.Tucked && !slices.Contains(f.Faults(), "tucked-set-skipped"), has(form.Tucked, form.Leg), f.ID)
			wrong := 0
			for _, m := range f.Marks {
				if m.Is == yesNo(m.of.Yes) {
					assert.Contains(t, f.Faults(), m.of.Fault)
					wrong++
				}
			}
			for _, id := range f.Faults() {
				k, _ := form.FaultIndex(id)
				wrong -= count(form.Faults[k].Kind == form.Noted)
			}
			assert.Zero(t, wrong, f.ID)
		}
		assert.Equal(t, 6, good)
		for _, fault := range form.Faults {
			assert.GreaterOrEqual(t, planted[fault.ID], 2, "seed %d: %s", seed, fault.ID)
			assert.NotContains(t, string(a), fault.ID)
		}
	}
}

// TestBlindToOneFault: a learner who sees all but one fault is found out within
// 20 forms, whichever fault it is, and no other is named.
func TestBlindToOneFault(t *testing.T) {
	for seed := range uint64(20) {
		s := set(t, seed, 20)
		for k, blind := range form.Faults {
			var answers []Answer
			for _, f := range s.Forms {
				seen := slices.DeleteFunc(f.Faults(), func(id string) bool { return id == blind.ID })
				a := Answer{Form: f.ID, Verdict: Cut, Faults: seen}
				if len(seen) > 0 {
					a.Verdict = f.Right()
				}
				answers = append(answers, a)
			}
			m, err := s.mark("", answers)
			require.NoError(t, err)
			for i, b := range m.Faults {
				assert.Equal(t, i == k, b.Missed, "seed %d, blind to %s: %s p %.3g", seed, blind.ID, b.Fault, b.PValue)
			}
		}
	}
}

// TestMissedByHand: of two kinds of fault the first is found on x of 4 forms, the other
// on 10-x of 12. By the hypergeometric distribution at most x of the 10 found among the first 4
// have, at x = 0, the chance C(6,4)/C(16,4) = 15/1820; at x = 1 (15 + 10 C(6,3))/1820 =
// 215/1820; each times 2, the kinds. The first is below 0.05, the second is not.
func TestMissedByHand(t *testing.T) {
	rare, other := form.Faults[0].ID, form.Faults[1].ID
	of := func(x int) *Marking {
		var seen []Seen
		for i := range 16 {
			one := Seen{Answer: Answer{Verdict: Cut}, Planted: []string{other}, Right: Ask}
			found := i-4 < 10-x
			if i < 4 {
				one.Planted, found = []string{rare}, i < x
			}
			if found {
				one.Faults, one.Verdict = one.Planted, Ask
			}
			seen = append(seen, one)
		}
		return MarkSeen("", seen)
	}
	none, one := of(0), of(1)
	assert.InDelta(t, 2*15.0/1820, none.Faults[0].PValue, 1e-12)
	assert.True(t, none.Faults[0].Missed)
	assert.InDelta(t, 2*215.0/1820, one.Faults[0].PValue, 1e-12)
	assert.False(t, one.Faults[0].Missed)
	for _, m := range []*Marking{none, one} {
		assert.Equal(t, 1.0, m.Faults[1].PValue, "twice a chance over a half is no chance")
		assert.False(t, m.Faults[1].Missed)
		assert.InDelta(t, 10.0/16, m.Sensitivity.Point, 1e-12)
		assert.InDelta(t, 10.0/16, m.RightStep.Point, 1e-12)
	}
}

// TestGuesser: who answers by lot is at chance, sensitivity plus specificity 1,
// and is seldom said to miss one fault. With CI=true 400 rounds, otherwise 100.
func TestGuesser(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	n := breadth.Few(100, 400)
	rounds := float64(n)
	sum, agreement, named, guessing := 0.0, 0.0, 0, 0
	for seed := range uint64(n) {
		s := set(t, seed, 20)
		var answers []Answer
		for _, f := range s.Forms {
			a := Answer{Form: f.ID, Verdict: Verdicts[r.IntN(2)]}
			for _, fault := range form.Faults {
				if r.IntN(2) == 0 {
					a.Faults = append(a.Faults, fault.ID)
				}
			}
			answers = append(answers, a)
		}
		m, err := s.mark("", answers)
		require.NoError(t, err)
		sum += m.Sensitivity.Point + m.Specificity.Point
		agreement += m.Agreement.Point
		named += count(slices.ContainsFunc(m.Faults, func(b ByFault) bool { return b.Missed }))
		guessing += count(m.Says == "Not told apart from guessing on these forms.")
	}
	t.Logf("sensitivity plus specificity %.3f; one fault named %.3f, told as guessing %.3f of %d rounds", sum/rounds, float64(named)/rounds, float64(guessing)/rounds, n)
	assert.InDelta(t, 1, sum/rounds, 0.05) // standard error 0.012, of 100 rounds 0.024
	assert.InDelta(t, 0, agreement/rounds, 0.04, "no more than chance")
	assert.Less(t, float64(named)/rounds, 0.05)
	assert.Greater(t, float64(guessing)/rounds, 0.9)
}

func TestWrongAnswers(t *testing.T) {
	s := set(t, 1, 3)
	for _, a := range [][]Answer{{{Form: "P99", Verdict: Cut}}, {{Form: "P01", Verdict: "sew"}}, {{Form: "P01", Verdict: Cut, Faults: []string{"x"}}},
		{{Form: "P01", Verdict: Cut}, {Form: "P01", Verdict: Ask}}} {
		_, err := s.mark("", a)
		assert.Error(t, err)
	}
	m, err := s.mark("", nil)
	require.NoError(t, err)
	assert.Len(t, m.Left, 3)
	assert.False(t, m.Sensitivity.Given())
	assert.Contains(t, m.Says, "Too few")
}

// Six faulty forms, by hand: one cut, two asked about where the tape was needed, three right. Five of
// six were held, three of six in the right way.
func TestRightStepByHand(t *testing.T) {
	var seen []Seen
	for k, said := range []string{Cut, Ask, Ask, MeasureAgain, MeasureAgain, Ask} {
		right := MeasureAgain
		if k == 5 {
			right = Ask
		}
		seen = append(seen, Seen{Answer{Verdict: said}, []string{form.Faults[0].ID}, right})
	}
	m := MarkSeen("", seen)
	assert.Equal(t, []float64{5.0 / 6, 3.0 / 6}, []float64{m.Sensitivity.Point, m.RightStep.Point})
	assert.False(t, m.Specificity.Given())
}
