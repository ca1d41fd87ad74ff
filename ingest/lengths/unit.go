package lengths

import (
	"math"
	"strings"

	"lastroom/analysis/form"
)

var unitWords = map[string]form.Unit{
	"mm": form.Millimetre, "millimetre": form.Millimetre, "millimetres": form.Millimetre, "millimeter": form.Millimetre, "millimeters": form.Millimetre,
	"cm": form.Centimetre, "centimetre": form.Centimetre, "centimetres": form.Centimetre, "centimeter": form.Centimetre, "centimeters": form.Centimetre,
	"in": form.Inch, "in.": form.Inch, "inch": form.Inch, "inches": form.Inch, `"`: form.Inch, "″": form.Inch, "”": form.Inch, "''": form.Inch,
}

// ParseUnit reads the name or the sign of a unit, whatever its case. The empty
// text is form.NoUnit; ok is false for a word that is no unit.
func ParseUnit(text string) (u form.Unit, ok bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	if text == "" {
		return form.NoUnit, true
	}
	u, ok = unitWords[text]
	return u, ok
}

// AsWritten is a text that was read as mm millimetres, with the unit that makes it so
// where it names none itself.
func AsWritten(text string, mm float64) string {
	if _, own := cutUnit(text); own != form.NoUnit {
		return text
	}
	for _, u := range form.Units {
		if x, err := Parse(text, u, Options{DecimalComma: true}); err == nil && math.Abs(x-mm) < 0.001 {
			return text + " " + u.String()
		}
	}
	return text
}

// WrittenIn is the unit of a text that Parse took with the given unit of its
// column: its own where the column has none.
func WrittenIn(text string, unit form.Unit) form.Unit {
	if _, own := cutUnit(text); own != form.NoUnit {
		return own
	}
	return unit
}
