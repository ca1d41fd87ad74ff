package body

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/form"
)

// Every point of a form can be judged, under every scheme.
func TestEveryPoint(t *testing.T) {
	mm := map[form.Point]float64{form.Length: 270, form.Breadth: 102, form.Ball: 254, form.Instep: 268, form.Heel: 345, form.Ankle: 232, form.Calf: 395, form.Leg: 330}
	for _, heel := range form.HeelGirths {
		for _, ankle := range form.AnkleGirths {
			m := NewModel(form.Scheme{HeelGirth: heel, AnkleGirth: ankle})
			f := form.Form{Sex: form.Male}
			for _, p := range form.Points {
				for _, side := range form.Sides {
					n := form.Number{Place: form.Place{Side: side, Point: p}, ValueMM: mm[p] + float64(side)}
					if p == form.Leg {
						n.HeightMM = 228.6
					}
					f.Numbers = append(f.Numbers, n)
				}
			}
			for _, r := range m.Check(f, nil, 0).Readings {
				assert.True(t, r.Judged, "%s, heel %s, ankle %s", r.Name(), heel, ankle)
			}
		}
	}
}

// Every fault that is read off the numbers has its answer.
func TestEveryEvidentFault(t *testing.T) {
	e := Evidence{TapeZeroShown: Yes, SidesCopied: Yes, UnitMixed: Yes, ValueImplausible: Yes}
	for _, f := range form.Faults {
		answer := e.Of(f.ID)
		assert.Equal(t, f.Kind == form.Evident, answer == Yes, f.ID)
	}
}
