package form

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
)

// A Height is a height above the floor in millimetres; 0 is none, which JSON
// writes as null.
type Height float64

// MarshalJSON writes the height, or null for none.
func (h Height) MarshalJSON() ([]byte, error) {
	if h == 0 {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(h), 'f', -1, 64), nil
}

// String is the height as a workshop says it: in inches where it is whole eighths
// of one, else in centimetres. No height is "".
func (h Height) String() string {
	if h == 0 {
		return ""
	}
	if eighths := float64(h) / Inch.MM() * 8; math.Abs(eighths-math.Round(eighths)) < 1e-6 {
		return Inches(float64(h)) + " in"
	}
	return strconv.FormatFloat(float64(h)/10, 'f', -1, 64) + " cm"
}

// A Place is where a number is taken. Places can be compared with ==.
type Place struct {
	Side     Side     `json:"side"`
	Clothing Clothing `json:"clothing"`
	Point    Point    `json:"point"`
	HeightMM Height   `json:"height_mm"` // of leg girths; 0 for the others
}

// OtherSide is the same place on the other foot or leg.
func (p Place) OtherSide() Place {
	p.Side = Left + Right - p.Side
	return p
}

// ComparePlaces orders places as forms list them: bare before tucked, foot
// before leg, low before high, left before right.
func ComparePlaces(a, b Place) int {
	return cmp.Or(cmp.Compare(a.Clothing, b.Clothing), cmp.Compare(a.Point, b.Point),
		cmp.Compare(a.HeightMM, b.HeightMM), cmp.Compare(a.Side, b.Side))
}

// Name is a place in words, as "left ball girth" or "right leg girth at 279 mm
// (11 in), over trousers".
func (p Place) Name() string {
	return p.nameAt(fmt.Sprintf("%.0f mm (%s in)", float64(p.HeightMM), trimmed(float64(p.HeightMM)/Inch.MM(), 2)))
}

// NameIn is a place in words with its height in a unit, as "right leg girth at
// 11 in, over trousers".
func (p Place) NameIn(u Unit) string { return p.nameAt(u.Text(float64(p.HeightMM))) }

func (p Place) nameAt(height string) string {
	s := p.Side.String() + " "
	switch p.Point {
	case Length, Breadth:
		s += "foot " + p.Point.String()
	case Leg:
		s += "leg girth at " + height
	default:
		s += p.Point.String() + " girth"
	}
	if p.Clothing == Tucked {
		s += ", over trousers"
	}
	return s
}

// A Number is one measurement on a form, in millimetres and as written.
type Number struct {
	Place
	ValueMM       float64 `json:"value_mm"`
	HeightWritten string  `json:"height"`
	Written       string  `json:"written"`
	// Unit is the unit it was written in: it says which digits, and how finely
	// the tape was read.
	Unit Unit `json:"unit"`
}

// A Form is the numbers of one measuring form and what is needed to judge them.
type Form struct {
	ID      string
	Sex     Sex
	Channel Channel
	Numbers []Number
}
