package lengths

import (
	"math"
	"strconv"
)

// Print writes a length for people in the given unit: inches as a whole number
// and the smallest fraction down to sixteenths where the length is one within
// 0.01 mm (`14 5/8 in`), else with two decimals; cm and mm with what decimals
// they need, up to the tenth of a millimetre.
//
// A length that is not finite, or a unit that is none, gives "".
func Print(mm float64, unit Unit) string {
	if math.IsNaN(mm) || math.IsInf(mm, 0) {
		return ""
	}
	switch unit {
	case In:
		return Inches(mm) + " in"
	case CM:
		return trimmed(mm/10, 2) + " cm"
	case MM:
		return trimmed(mm, 1) + " mm"
	}
	return ""
}

// Inches is the number of Print in inches, without the unit.
func Inches(mm float64) string {
	const parts = 16
	sixteenths := math.Round(mm / In.MM() * parts)
	if math.Abs(sixteenths*In.MM()/parts-mm) > 0.01 || math.Abs(sixteenths) > 1e9 {
		return trimmed(mm/In.MM(), 2)
	}
	sign := ""
	if sixteenths < 0 {
		sign, sixteenths = "-", -sixteenths
	}
	return sign + fraction(int(sixteenths), parts)
}

// fraction writes n/d as a whole number and a fraction in lowest terms.
func fraction(n, d int) string {
	whole, n := n/d, n%d
	if n == 0 {
		return strconv.Itoa(whole)
	}
	for n%2 == 0 {
		n, d = n/2, d/2
	}
	f := strconv.Itoa(n) + "/" + strconv.Itoa(d)
	if whole == 0 {
		return f
	}
	return strconv.Itoa(whole) + " " + f
}

// trimmed writes x with at most the given decimals, and no trailing zeros.
func trimmed(x float64, decimals int) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(x*scale)/scale, 'f', -1, 64)
}
