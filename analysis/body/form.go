package body

import "math"

// A Side is left or right.
type Side uint8

// The two sides.
const (
	Left Side = iota
	Right
)

// Clothing says whether the tape lay on the bare (socked) leg or over the trouser leg.
type Clothing uint8

// Bare is the ordinary set; tucked is taken over the trousers.
const (
	Bare Clothing = iota
	Tucked
)

// A Point is a place on the foot or leg that a form has a number for.
type Point uint8

// The points of the measurements sheet, in its order.
const (
	Length Point = iota
	Breadth
	Ball
	Instep
	Heel
	Ankle
	Calf
	Leg // a girth at a height above the floor
	points
)

// A Sex chooses the reference range; it may be unknown.
type Sex uint8

// The reference ranges.
const (
	SexUnknown Sex = iota
	Female
	Male
)

// A Channel is who took the measures; it sets the measuring error.
type Channel uint8

// Home is the widest and stands for any channel that is not known.
const (
	Home Channel = iota
	Dealer
	Shop
	channels
)

// A Unit is the unit a number was written in.
type Unit uint8

// The units of the measurements sheet.
const (
	Millimetre Unit = iota
	Centimetre
	Inch
)

// MM is the length of one unit in millimetres.
func (u Unit) MM() float64 { return [...]float64{1, 10, 25.4}[min(u, Inch)] }

var (
	sideNames     = [...]string{"left", "right"}
	clothingNames = [...]string{"bare", "tucked"}
	pointNames    = [...]string{"length", "breadth", "ball", "instep", "heel", "ankle", "calf", "leg"}
	unitNames     = [...]string{"mm", "cm", "in"}
	channelNames  = [...]string{"home", "dealer", "shop"}
)

func (s Side) String() string     { return name(sideNames[:], int(s)) }
func (c Clothing) String() string { return name(clothingNames[:], int(c)) }
func (p Point) String() string    { return name(pointNames[:], int(p)) }
func (u Unit) String() string     { return name(unitNames[:], int(u)) }
func (c Channel) String() string  { return name(channelNames[:], int(c)) }

// MarshalText writes the point's name, for JSON.
func (p Point) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// MarshalText writes the channel's name, for JSON.
func (c Channel) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

func name(names []string, i int) string {
	if i < len(names) {
		return names[i]
	}
	return "unknown"
}

// ParseSide reads "left" or "right".
func ParseSide(s string) (Side, bool) {
	i, ok := index(sideNames[:], s)
	return Side(i), ok
}

// ParseClothing reads "bare" or "tucked"; an empty text is bare.
func ParseClothing(s string) (Clothing, bool) {
	if s == "" {
		return Bare, true
	}
	i, ok := index(clothingNames[:], s)
	return Clothing(i), ok
}

// ParsePoint reads the name of a point.
func ParsePoint(s string) (Point, bool) {
	i, ok := index(pointNames[:], s)
	return Point(i), ok
}

// ParseUnit reads "mm", "cm" or "in".
func ParseUnit(s string) (Unit, bool) {
	i, ok := index(unitNames[:], s)
	return Unit(i), ok
}

// ParseSex reads "f" or "m"; anything else is unknown.
func ParseSex(s string) Sex {
	switch s {
	case "f":
		return Female
	case "m":
		return Male
	}
	return SexUnknown
}

// ParseChannel reads "home", "dealer" or "shop"; any other text is taken as
// home, whose measuring error is the widest.
func ParseChannel(s string) Channel {
	switch s {
	case "dealer":
		return Dealer
	case "shop":
		return Shop
	}
	return Home
}

func index(names []string, s string) (int, bool) {
	for i, n := range names {
		if n == s {
			return i, true
		}
	}
	return 0, false
}

// A Number is one measurement on a form, in millimetres.
type Number struct {
	Side     Side
	Clothing Clothing
	Point    Point
	Height   float64 // Leg only: height of the tape above the floor, mm
	MM       float64
	Written  string // as written, for showing; may be empty
	Unit     Unit   // the unit it was written in: says which digits and which reading step
}

// A Form is the numbers of one measuring form and what is needed to judge them.
type Form struct {
	ID      string
	Sex     Sex
	Channel Channel
	Numbers []Number
}

// Settings say what a shop's heel and ankle girths are. The survey holds the
// short heel (heel tip to the front bend of the ankle) and the least ankle
// girth. Of the other kinds nothing is published here: such numbers are only
// compared loosely and side with side, and the check says so.
type Settings struct {
	LongHeel       bool
	AnkleOverBones bool
}

// An Answer is yes, no, or not judged.
type Answer uint8

// Unjudged is never No.
const (
	Unjudged Answer = iota
	No
	Yes
)

// Value is nil, false or true, as a database column takes it.
func (a Answer) Value() any {
	switch a {
	case No:
		return false
	case Yes:
		return true
	}
	return nil
}

// Evidence is what the numbers of one form amount to, for the order book
// (table form_evidence). It is kept apart from what a clerk noted.
type Evidence struct {
	TapeZeroShown    Answer // a common shift explains the girths best
	SidesCopied      Answer // left equals right on every number, and honest sides would not
	UnitMixed        Answer // a number makes sense only in another unit
	ValueImplausible Answer // the set is unlike human feet and legs at the false-alarm share
	OutOfRange       Answer // the form-wise range limits alone

	// Score is minus the base-10 logarithm of the share of good forms (of the
	// same sex, channel, reading step and set of numbers) that look at least
	// as odd: 2 is one good form in a hundred. NaN: not judged.
	Score float64
}

// unjudged is the evidence of a form without a number that can be judged.
var unjudged = Evidence{Score: math.NaN()}
