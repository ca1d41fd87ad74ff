package form

import (
	"math"
	"strconv"
)

// A Unit is a unit of length.
type Unit uint8

// The units of the sheets. NoUnit stands where none is given.
const (
	NoUnit Unit = iota
	Millimetre
	Centimetre
	Inch
)

// Units are all that a sheet may use.
var Units = []Unit{Millimetre, Centimetre, Inch}

var (
	unitNames = [...]string{"", "mm", "cm", "in"}
	unitWords = [...]string{"", "millimetres", "centimetres", "inches"}
	unitMM    = [...]float64{0, 1, 10, 25.4} // the international inch of 1959 is 25.4 mm exactly
)

// String is "mm", "cm", "in", or "" for NoUnit.
func (u Unit) String() string { return name(unitNames[:], int(u)) }

// Words is the unit as people say it, "inches"; "" for NoUnit.
func (u Unit) Words() string { return name(unitWords[:], int(u)) }

// MM is the length of one unit in millimetres; 0 for NoUnit.
func (u Unit) MM() float64 { return unitMM[min(u, Inch)] }

func (u Unit) MarshalText() ([]byte, error)  { return []byte(u.String()), nil }
func (u *Unit) UnmarshalText(b []byte) error { return read(b, u, "unit", ParseUnit) }

// ParseUnit reads "mm", "cm" or "in"; an empty text is NoUnit.
func ParseUnit(s string) (Unit, bool) {
	i, ok := index(unitNames[:], s)
	return Unit(i), ok
}

// Step is what a tape in the unit is read to, in millimetres: an eighth of an inch, or a
// millimetre, as the forms ask for (common practice, no source).
func (u Unit) Step() float64 {
	if u == Inch {
		return Inch.MM() / 8
	}
	return 1
}

// Text writes a length for a person at the tape, with the unit: inches as
// Inches, else to the millimetre. A length that is not finite gives "", and so
// does NoUnit.
func (u Unit) Text(mm float64) string {
	if math.IsNaN(mm) || math.IsInf(mm, 0) {
		return ""
	}
	switch u {
	case Inch:
		return Inches(mm) + " in"
	case Centimetre:
		return trimmed(mm/10, 1) + " cm"
	case Millimetre:
		return trimmed(mm, 0) + " mm"
	}
	return ""
}

// sixteenthSlackMM is how far a length may be from a sixteenth of an inch and
// still be written as one: more than rounding on the way, less than a tape shows.
const sixteenthSlackMM = 0.05

// Inches is a length in inches, without the unit: a whole number and the
// smallest fraction down to sixteenths where the length is one ("14 5/8"), else
// two decimals.
func Inches(mm float64) string {
	const parts = 16
	n := math.Round(mm / Inch.MM() * parts)
	if n < 0 || n > 1e6 || math.Abs(n*Inch.MM()/parts-mm) > sixteenthSlackMM {
		return trimmed(mm/Inch.MM(), 2)
	}
	whole, part, of := int(n)/parts, int(n)%parts, parts
	if part == 0 {
		return strconv.Itoa(whole)
	}
	for part%2 == 0 {
		part, of = part/2, of/2
	}
	f := strconv.Itoa(part) + "/" + strconv.Itoa(of)
	if whole > 0 {
		f = strconv.Itoa(whole) + " " + f
	}
	return f
}

// trimmed writes x with at most so many decimals, and no trailing zeros.
func trimmed(x float64, decimals int) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(x*scale)/scale, 'f', -1, 64)
}
