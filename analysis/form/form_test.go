package form

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Lengths by hand: 25.4 mm an inch exactly.
func TestText(t *testing.T) {
	for _, c := range []struct {
		mm   float64
		unit Unit
		want string
	}{{177.8, Inch, "7 in"}, {371.475, Inch, "14 5/8 in"}, {190.5, Inch, "7 1/2 in"}, {15.875, Inch, "5/8 in"}, {180, Inch, "7.09 in"},
		{180, Centimetre, "18 cm"}, {182.5, Centimetre, "18.3 cm"}, {180, Millimetre, "180 mm"}, {math.NaN(), Inch, ""}, {180, NoUnit, ""}} {
		assert.Equal(t, c.want, c.unit.Text(c.mm))
	}
	assert.Equal(t, []string{"7 in", "18 cm", ""}, Texts([]Height{177.8, 180, 0}))
}

func TestNames(t *testing.T) {
	assert.Equal(t, "left ball girth", Place{Point: Ball}.Name())
	assert.Equal(t, "right foot breadth", Place{Side: Right, Point: Breadth}.Name())
	assert.Equal(t, "right leg girth at 286 mm (11.25 in), over trousers", Place{Right, Tucked, Leg, 285.75}.Name())
}

// Every word is read back as what it stands for, from sheets and from JSON.
func TestWordsReadBack(t *testing.T) {
	for _, p := range Points {
		got, ok := ParsePoint(p.String())
		assert.True(t, ok && got == p, p)
	}
	for _, u := range Units {
		got, ok := ParseUnit(u.String())
		assert.True(t, ok && got == u, u)
	}
	for _, c := range Channels {
		assert.Equal(t, c, ParseChannel(c.String()))
	}
	assert.Equal(t, Home, ParseChannel("by post"))
	assert.Len(t, Points, int(PointCount))
	assert.Len(t, Channels, int(ChannelCount))
	for _, bad := range []string{`{"side":"up"}`, `{"point":"knee"}`, `{"unit":"ell"}`, `{"clothing":"x"}`} {
		assert.Error(t, json.Unmarshal([]byte(bad), &Number{}), bad)
	}
	n := Number{Place: Place{Right, Tucked, Leg, 228.6}, ValueMM: 371.475, HeightWritten: "9", Written: "14 5/8", Unit: Inch}
	b, err := json.Marshal(n)
	require.NoError(t, err)
	assert.JSONEq(t, `{"side":"right","clothing":"tucked","point":"leg","height_mm":228.6,"value_mm":371.475,"height":"9","written":"14 5/8","unit":"in"}`, string(b))
	var back Number
	require.NoError(t, json.Unmarshal(b, &back))
	assert.Equal(t, n, back)
	b, err = json.Marshal(Place{Point: Ball})
	require.NoError(t, err)
	assert.JSONEq(t, `{"side":"left","clothing":"bare","point":"ball","height_mm":null}`, string(b))
}

func TestComparePlaces(t *testing.T) {
	want := []Place{{Left, Bare, Ball, 0}, {Right, Bare, Ball, 0}, {Left, Bare, Leg, 177.8}, {Left, Bare, Leg, 228.6}, {Left, Tucked, Leg, 177.8}}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, ComparePlaces)
	assert.Equal(t, want, got)
	assert.Equal(t, want[1], want[0].OtherSide())
}

func TestScheme(t *testing.T) {
	assert.Equal(t, DefaultScheme, SchemeOf(nil))
	assert.Equal(t, DefaultScheme, SchemeOf(map[string]string{settingFirst: "tall", settingStep: "-3", settingHeelGirth: "odd"}))
	s := SchemeOf(map[string]string{settingFirst: "150", settingStep: "100", settingTolerance: "0", settingHeelGirth: "long", settingAnkleGirth: "none"})
	assert.Equal(t, Scheme{150, 100, 0, LongHeel, NoAnkle}, s)
	assert.Equal(t, []Height{150, 250}, s.Heights(349))
	assert.Len(t, DefaultScheme.Heights(15*25.4), 5, "7, 9, 11, 13 and 15 in for a shaft of 15 in")
	assert.Empty(t, s.Heights(math.NaN()))
	assert.Len(t, Scheme{FirstMM: 1}.Heights(1000), MostHeights, "a step of nothing ends")
}

// A noted fault has the marks that tell of it or is counted otherwise; what a
// fault asks for has its reason, and the other way round.
func TestCatalogue(t *testing.T) {
	told := map[string]bool{}
	for _, m := range Marks {
		k, ok := FaultIndex(m.Fault)
		require.True(t, ok, m.Column)
		assert.Equal(t, Noted, Faults[k].Kind, m.Column)
		told[m.Fault] = true
	}
	for k, f := range Faults {
		at, ok := FaultIndex(f.ID)
		assert.True(t, ok && at == k, "%s stands once", f.ID)
		assert.Equal(t, f.Kind == Noted, told[f.ID], "a noted fault has its marks: %s", f.ID)
		assert.Equal(t, f.Asks != Nothing, f.Why != "", f.ID)
		assert.NotEmpty(t, f.Title)
		assert.NotEmpty(t, f.Has)
		for _, z := range f.Zones {
			assert.Contains(t, Zones, z, f.ID)
		}
	}
	_, ok := FaultIndex("no-such")
	assert.False(t, ok)
}

// A sentence may begin with a quoted name, whose first sign has several bytes.
func TestCapitalised(t *testing.T) {
	for in, want := range map[string]string{"": "", "ball girth": "Ball girth", "“Ann” measures twice": "“Ann” measures twice", "übung": "Übung"} {
		assert.Equal(t, want, Capitalised(in))
	}
}
