package lengths

import (
	"math"
	"testing"

	"lastroom/analysis/form"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The factors are exact by definition: 1 in = 25.4 mm (international yard and
// pound agreement of 1959), 1 cm = 10 mm.
func TestParse(t *testing.T) {
	comma := Options{DecimalComma: true}
	for _, c := range []struct {
		text string
		unit form.Unit
		opt  Options
		want float64
	}{
		{"14.625", form.Inch, Options{}, 371.475},
		{"14 5/8", form.Inch, Options{}, 371.475},
		{"14-5/8", form.Inch, Options{}, 371.475},
		{`14 5/8"`, form.Inch, Options{}, 371.475},
		{`14 5/8"`, form.NoUnit, Options{}, 371.475},
		{`14  5/8 in.`, form.Inch, Options{}, 371.475},
		{"14⅝", form.Inch, Options{}, 371.475},
		{"14⅝″", form.NoUnit, Options{}, 371.475},
		{"14–5⁄8", form.Inch, Options{}, 371.475},
		{"5/8", form.Inch, Options{}, 15.875},
		{"14,625", form.Inch, comma, 371.475},
		{"14.625", form.Inch, comma, 371.475},
		{"37,5", form.Centimetre, comma, 375},
		{"37.5cm", form.NoUnit, Options{}, 375},
		{"371", form.Millimetre, Options{}, 371},
		{" 371 mm ", form.Millimetre, Options{}, 371},
		{".5", form.Inch, Options{}, 12.7},
		{"9.", form.Inch, Options{}, 228.6},
		{"0014", form.Millimetre, Options{}, 14},
		{"1/3", form.Inch, Options{}, 8.4667},
		{"14 inches", form.NoUnit, Options{}, 355.6},
	} {
		got, err := Parse(c.text, c.unit, c.opt)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, got, c.text)
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		unit form.Unit
		opt  Options
		want string
	}{
		{"", form.Millimetre, Options{}, "is empty"},
		{"12", form.NoUnit, Options{}, "has no unit"},
		{"-12", form.Millimetre, Options{}, "can't be negative"},
		{"0", form.Millimetre, Options{}, "more than 0"},
		{"0/8", form.Inch, Options{}, "more than 0"},
		{"12 mm", form.Inch, Options{}, "written in mm"},
		{"14 5/8", form.Centimetre, Options{}, "in inches only"},
		{"14 8/8", form.Inch, Options{}, "one or more"},
		{"14 5/0", form.Inch, Options{}, "over 0"},
		{"14 5/", form.Inch, Options{}, "not a fraction"},
		{"14 5/8/2", form.Inch, Options{}, "not a fraction"},
		{"14.5 5/8", form.Inch, Options{}, "not a fraction"},
		{"/", form.Inch, Options{}, "not a fraction"},
		{"14,5", form.Centimetre, Options{}, "decimal comma"},
		{"1.234,5", form.Centimetre, Options{DecimalComma: true}, "more than one decimal mark"},
		{"1.2.3", form.Centimetre, Options{}, "not a length"},
		{"1e3", form.Millimetre, Options{}, "not a length"},
		{"NaN", form.Millimetre, Options{}, "not a length"},
		{"inf", form.Millimetre, Options{}, "not a length"},
		{"about 12", form.Millimetre, Options{}, "not a length"},
		{"99999999999999999999", form.Millimetre, Options{}, "longer than"},
		{"12 stone", form.Millimetre, Options{}, "not a length"},
	} {
		_, err := Parse(c.text, c.unit, c.opt)
		require.Error(t, err, c.text)
		assert.Contains(t, err.Error(), c.want, c.text)
	}
}

// What is printed in sixteenths is read back as the same length.
func TestPrintReadsBack(t *testing.T) {
	for n := 1; n <= 16*40; n++ {
		want := round(float64(n) * 25.4 / 16)
		got, err := Parse(form.Inch.Text(want), form.NoUnit, Options{})
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
}

func TestParseUnit(t *testing.T) {
	for text, want := range map[string]form.Unit{"": form.NoUnit, " MM": form.Millimetre, "Inches": form.Inch, "cm": form.Centimetre} {
		u, ok := ParseUnit(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, u, text)
	}
	_, ok := ParseUnit("ell")
	assert.False(t, ok)
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{`14 5/8"`, "14-5/8", "37,5", "371 mm", "⅝", "", "1/0", "\xff½"} {
		f.Add(s, uint8(form.Inch), true)
	}
	f.Fuzz(func(t *testing.T, s string, unit uint8, comma bool) {
		u := form.Unit(unit % 4)
		x, err := Parse(s, u, Options{DecimalComma: comma})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.False(t, math.IsNaN(x) || math.IsInf(x, 0) || x <= 0 || x > longest)
		require.Equal(t, x, round(x))
		again, err := Parse(form.Inch.Text(x), form.NoUnit, Options{})
		if x > 0.2 && x < longest-1 {
			require.NoError(t, err)
			require.InDelta(t, x, again, 0.13) // half of a hundredth of an inch
		}
	})
}

// A length is shown as it was written, with the unit by which it was read.
func TestAsWritten(t *testing.T) {
	for _, c := range []struct {
		text string
		mm   float64
		want string
	}{{"12", 304.8, "12 in"}, {"14 5/8", 371.475, "14 5/8 in"}, {"37,5", 375, "37,5 cm"}, {"371", 371, "371 mm"},
		{`12"`, 304.8, `12"`}, {"30.5 cm", 305, "30.5 cm"}, {"12", 999, "12"}, {"", 305, ""}, {"twelve", 304.8, "twelve"}} {
		assert.Equal(t, c.want, AsWritten(c.text, c.mm), c.text)
	}
}
