package lengths

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The factors are exact by definition: 1 in = 25.4 mm (international yard and
// pound agreement of 1959), 1 cm = 10 mm.
func TestParse(t *testing.T) {
	comma := Options{DecimalComma: true}
	for _, c := range []struct {
		text string
		unit Unit
		opt  Options
		want float64
	}{
		{"14.625", In, Options{}, 371.475},
		{"14 5/8", In, Options{}, 371.475},
		{"14-5/8", In, Options{}, 371.475},
		{`14 5/8"`, In, Options{}, 371.475},
		{`14 5/8"`, NoUnit, Options{}, 371.475},
		{`14  5/8 in.`, In, Options{}, 371.475},
		{"14⅝", In, Options{}, 371.475},
		{"14⅝″", NoUnit, Options{}, 371.475},
		{"14–5⁄8", In, Options{}, 371.475},
		{"5/8", In, Options{}, 15.875},
		{"14,625", In, comma, 371.475},
		{"14.625", In, comma, 371.475},
		{"37,5", CM, comma, 375},
		{"37.5cm", NoUnit, Options{}, 375},
		{"371", MM, Options{}, 371},
		{" 371 mm ", MM, Options{}, 371},
		{".5", In, Options{}, 12.7},
		{"9.", In, Options{}, 228.6},
		{"0014", MM, Options{}, 14},
		{"1/3", In, Options{}, 8.4667},
		{"14 inches", NoUnit, Options{}, 355.6},
	} {
		got, err := Parse(c.text, c.unit, c.opt)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, got, c.text)
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit
		opt  Options
		want string
	}{
		{"", MM, Options{}, "is empty"},
		{"12", NoUnit, Options{}, "has no unit"},
		{"-12", MM, Options{}, "can't be negative"},
		{"0", MM, Options{}, "more than 0"},
		{"0/8", In, Options{}, "more than 0"},
		{"12 mm", In, Options{}, "written in mm"},
		{"14 5/8", CM, Options{}, "in inches only"},
		{"14 8/8", In, Options{}, "one or more"},
		{"14 5/0", In, Options{}, "over 0"},
		{"14 5/", In, Options{}, "not a fraction"},
		{"14 5/8/2", In, Options{}, "not a fraction"},
		{"14.5 5/8", In, Options{}, "not a fraction"},
		{"/", In, Options{}, "not a fraction"},
		{"14,5", CM, Options{}, "decimal comma"},
		{"1.234,5", CM, Options{DecimalComma: true}, "more than one decimal mark"},
		{"1.2.3", CM, Options{}, "not a length"},
		{"1e3", MM, Options{}, "not a length"},
		{"NaN", MM, Options{}, "not a length"},
		{"inf", MM, Options{}, "not a length"},
		{"about 12", MM, Options{}, "not a length"},
		{"99999999999999999999", MM, Options{}, "longer than"},
		{"12 stone", MM, Options{}, "not a length"},
	} {
		_, err := Parse(c.text, c.unit, c.opt)
		require.Error(t, err, c.text)
		assert.Contains(t, err.Error(), c.want, c.text)
	}
}

func TestPrint(t *testing.T) {
	assert.Equal(t, "14 5/8 in", Print(371.475, In))
	assert.Equal(t, "5/8 in", Print(15.875, In))
	assert.Equal(t, "7 in", Print(177.8, In))
	assert.Equal(t, "9.84 in", Print(250, In))
	assert.Equal(t, "37.15 cm", Print(371.475, CM))
	assert.Equal(t, "371.5 mm", Print(371.475, MM))
	assert.Empty(t, Print(math.NaN(), In))
	assert.Empty(t, Print(1, NoUnit))
}

// What is printed in sixteenths is read back as the same length.
func TestPrintReadsBack(t *testing.T) {
	for n := 1; n <= 16*40; n++ {
		want := Round(float64(n) * 25.4 / 16)
		got, err := Parse(Print(want, In), NoUnit, Options{})
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
}

func TestParseUnit(t *testing.T) {
	for text, want := range map[string]Unit{"": NoUnit, " MM": MM, "Inches": In, "cm": CM} {
		u, ok := ParseUnit(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, u, text)
	}
	_, ok := ParseUnit("ell")
	assert.False(t, ok)
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{`14 5/8"`, "14-5/8", "37,5", "371 mm", "⅝", "", "1/0", "\xff½"} {
		f.Add(s, uint8(In), true)
	}
	f.Fuzz(func(t *testing.T, s string, unit uint8, comma bool) {
		u := Unit(unit % 4)
		x, err := Parse(s, u, Options{DecimalComma: comma})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.False(t, math.IsNaN(x) || math.IsInf(x, 0) || x <= 0 || x > longest)
		require.Equal(t, x, Round(x))
		again, err := Parse(Print(x, In), NoUnit, Options{})
		if x > 0.2 && x < longest-1 {
			require.NoError(t, err)
			require.InDelta(t, x, again, 0.13) // half of a hundredth of an inch
		}
	})
}
