package practice

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

func in(t *testing.T, u form.Unit, seed uint64) *Set {
	t.Helper()
	s, err := Plan{Seed: seed, Forms: 20, Unit: u}.Set()
	require.NoError(t, err)
	return s
}

// A seed gives the same people with the same faults at the same places in each unit:
// apart by what the tapes are read to, and by the number in the other unit.
func TestTheSameSetInEachUnit(t *testing.T) {
	for seed := range uint64(10) {
		inches := in(t, form.Inch, seed)
		for _, u := range []form.Unit{form.Centimetre, form.Millimetre} {
			for i, f := range in(t, u, seed).Forms {
				g := inches.Forms[i]
				assert.Equal(t, g.Boot, f.Boot)
				assert.Equal(t, g.Marks, f.Marks)
				assert.Equal(t, g.Faults(), f.Faults())
				assert.Equal(t, g.places, f.places, f.ID)
				require.Len(t, f.Numbers, len(g.Numbers), f.ID)
				for k, n := range f.Numbers {
					assert.Equal(t, g.Numbers[k].Place, n.Place)
					assert.Equal(t, u, n.Unit)
					if !slices.Contains(f.places["unit-mixed"], n.Place) {
						apart := (u.Step() + form.Inch.Step()) / 2
						if slices.Contains(f.places["value-implausible"], n.Place) {
							apart *= 1 + implausible
						}
						assert.InDelta(t, g.Numbers[k].ValueMM, n.ValueMM, apart+0.4, f.ID) // 25 mm and an inch are 0.4 mm apart
						assert.Equal(t, u.Text(n.ValueMM), n.Written)
						assert.InDelta(t, 0, math.Mod(n.ValueMM, 1), 1e-9, "a tape is read to whole millimetres")
					}
				}
			}
		}
	}
}

// Sets that were kept before there was a choice are in inches.
func TestASetWithoutAUnitIsInInches(t *testing.T) {
	var kept Plan
	require.NoError(t, json.Unmarshal([]byte(`{"seed":7,"forms":20}`), &kept))
	s, err := kept.Set()
	require.NoError(t, err)
	assert.Equal(t, in(t, form.Inch, 7), s)
	for _, n := range s.Forms[0].Numbers {
		assert.Equal(t, n.HeightMM.String(), n.HeightWritten)
		assert.Regexp(t, ` in$`, n.Written)
	}
}

// The number in the other unit is inches in parts among centimetres, and the truth says
// which is which.
func TestTheOtherUnit(t *testing.T) {
	for u, want := range map[form.Unit][2]string{form.Inch: {`^\d+(\.\d)? in$|^\d+ 1/2 in$`, "one number is in centimetres, the others are in inches"},
		form.Centimetre: {`^\d+( \d/[248])? cm$`, "one number is in inches, the others are in centimetres"}} {
		mixed := 0
		for seed := range uint64(10) {
			for _, f := range in(t, u, seed).Forms {
				for _, truth := range f.Truth() {
					if truth.Fault.ID != "unit-mixed" {
						assert.Empty(t, truth.Here)
						continue
					}
					assert.Equal(t, want[1], truth.Here)
					assert.Equal(t, want[1]+": ask for these numbers again", truth.Why)
					for _, n := range f.Numbers {
						if n.Place == truth.Places[0] {
							assert.Regexp(t, want[0], n.Written)
							mixed++
						}
					}
				}
			}
		}
		assert.GreaterOrEqual(t, mixed, 20)
	}
}

// The shop's own check of numbers finds what is planted in them, in each unit alike. Of
// common shifts of an inch it is sure about in every second form, in inches too: they are
// like a stouter person. With CI=true of 15 sets in each unit, otherwise of 5.
func TestTheShopsCheckFindsWhatIsPlanted(t *testing.T) {
	m := body.NewModel(form.DefaultScheme)
	for _, u := range form.Units {
		planted, found := map[string]int{}, map[string]int{}
		good, alarms := 0, 0
		for seed := range uint64(breadth.Few(5, 15)) {
			for _, f := range in(t, u, seed).Forms {
				c, evident := m.Check(form.Form{Channel: form.Dealer, Numbers: f.Numbers}, nil, 0), 0
				for _, k := range f.faults {
					if fault := form.Faults[k]; fault.Kind == form.Evident {
						evident++
						planted[fault.ID]++
						found[fault.ID] += count(c.Of(fault.ID) == body.Yes)
					}
				}
				good += count(evident == 0)
				alarms += count(evident == 0 && c.Alarm)
			}
		}
		t.Logf("%s: found %v of %v; %d alarms on %d others", u, found, planted, alarms, good)
		assert.Equal(t, planted["sides-copied"], found["sides-copied"], u)
		assert.Equal(t, planted["value-implausible"], found["value-implausible"], u)
		assert.GreaterOrEqual(t, found["unit-mixed"], planted["unit-mixed"]-1, u)
		assert.GreaterOrEqual(t, found["tape-zero-shown"], planted["tape-zero-shown"]/2, u)
		assert.Less(t, float64(alarms)/float64(good), 0.05, u)
	}
}
