package lengths

import "strings"

// A Unit is a unit of length.
type Unit uint8

// The units a sheet may use. NoUnit stands where none is given.
const (
	NoUnit Unit = iota
	MM
	CM
	In
)

var unitNames = [...]string{NoUnit: "", MM: "mm", CM: "cm", In: "in"}

// mm is how many millimetres the unit is.
var mm = [...]float64{NoUnit: 0, MM: 1, CM: 10, In: 25.4}

func (u Unit) String() string { return unitNames[u] }

// MM is how many millimetres one of the unit is; 0 for NoUnit.
func (u Unit) MM() float64 { return mm[u] }

var unitWords = map[string]Unit{
	"mm": MM, "millimetre": MM, "millimetres": MM, "millimeter": MM, "millimeters": MM,
	"cm": CM, "centimetre": CM, "centimetres": CM, "centimeter": CM, "centimeters": CM,
	"in": In, "in.": In, "inch": In, "inches": In, `"`: In, "″": In, "”": In, "''": In,
}

// ParseUnit reads the name or the sign of a unit, whatever its case. The empty
// text is NoUnit; ok is false for a word that is no unit.
func ParseUnit(text string) (u Unit, ok bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	if text == "" {
		return NoUnit, true
	}
	u, ok = unitWords[text]
	return u, ok
}

// WrittenIn is the unit of a text that Parse took with the given unit of its
// column: its own where the column has none.
func WrittenIn(text string, unit Unit) Unit {
	if _, own := cutUnit(text); own != NoUnit {
		return own
	}
	return unit
}
