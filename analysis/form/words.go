package form

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The words that the sheets have for what is said once an order or form, in
// their order. Other text is kept where a column is open.
var (
	Closures   = []string{"pull-on", "lace-up"}
	Socks      = []string{"thin", "medium", "thick"}
	Results    = []string{"kept", "adjusted", "remade", "returned"}
	Directions = []string{"tight", "loose", "short", "long"}
	Causes     = []string{"measuring", "pattern", "making", "material", "preference", "unknown"}
	// ComplaintSides are the sides an outcome can name.
	ComplaintSides = []string{"left", "right", "both"}
	CostItems      = []string{"remake", "adjustment", "callback", "day_of_delay"}
	Sexes          = []string{"f", "m"}
)

// A Side is left or right.
type Side uint8

// The two sides.
const (
	Left Side = iota
	Right
)

// Sides are both.
var Sides = []Side{Left, Right}

// Clothing says whether the tape lay on the bare (socked) leg or over the trouser leg.
type Clothing uint8

// Bare is the ordinary set; Tucked is taken over the trousers.
const (
	Bare Clothing = iota
	Tucked
)

// Clothings are both.
var Clothings = []Clothing{Bare, Tucked}

// A Point is a place on the foot or leg that a form has a number for.
type Point uint8

// The points of the measurements sheet, in its order. All but Length and
// Breadth, which are read off the tracing, are girths.
const (
	Length Point = iota
	Breadth
	Ball
	Instep
	Heel
	Ankle
	Calf
	Leg // a girth at a height above the floor
)

// PointCount is the number of points.
const PointCount = Leg + 1

// Points are all of them, in the order in which they are listed.
var Points = []Point{Length, Breadth, Ball, Instep, Heel, Ankle, Calf, Leg}

// FootGirths are the girths of the foot that every boot needs, the ankle apart.
var FootGirths = []Point{Ball, Instep, Heel}

// OverTrousers reports whether the point is taken over trousers too.
func (p Point) OverTrousers() bool { return p == Calf || p == Leg }

// Girth reports whether a tape takes the point, not the tracing.
func (p Point) Girth() bool { return p > Breadth }

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
)

// ChannelCount is the number of channels.
const ChannelCount = Shop + 1

// Channels are all of them; a measurer's kind is one of them too.
var Channels = []Channel{Home, Dealer, Shop}

var (
	sideNames     = [...]string{"left", "right"}
	clothingNames = [...]string{"bare", "tucked"}
	pointNames    = [...]string{"length", "breadth", "ball", "instep", "heel", "ankle", "calf", "leg"}
	channelNames  = [...]string{"home", "dealer", "shop"}
	sexNames      = [...]string{"", "f", "m"}
)

// Texts are the words of a list, as sheets write them.
func Texts[T interface{ String() string }](list []T) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = x.String()
	}
	return out
}

// String is the zone as sheets write it.
func (z Zone) String() string { return string(z) }

// String is the setting as shops write it.
func (h HeelGirth) String() string { return string(h) }

// String is the setting as shops write it.
func (a AnkleGirth) String() string { return string(a) }

func (s Side) String() string     { return name(sideNames[:], int(s)) }
func (c Clothing) String() string { return name(clothingNames[:], int(c)) }
func (p Point) String() string    { return name(pointNames[:], int(p)) }
func (c Channel) String() string  { return name(channelNames[:], int(c)) }

// String is "f", "m", or "" where the sex is not known.
func (s Sex) String() string { return name(sexNames[:], int(s)) }

// In JSON each is its word, and no other word is read.

func (s Side) MarshalText() ([]byte, error)     { return []byte(s.String()), nil }
func (c Clothing) MarshalText() ([]byte, error) { return []byte(c.String()), nil }
func (p Point) MarshalText() ([]byte, error)    { return []byte(p.String()), nil }
func (c Channel) MarshalText() ([]byte, error)  { return []byte(c.String()), nil }

func (s *Side) UnmarshalText(b []byte) error     { return read(b, s, "side", ParseSide) }
func (c *Clothing) UnmarshalText(b []byte) error { return read(b, c, "clothing", ParseClothing) }
func (p *Point) UnmarshalText(b []byte) error    { return read(b, p, "point", ParsePoint) }

func read[T any](b []byte, into *T, what string, parse func(string) (T, bool)) (err error) {
	x, ok := parse(string(b))
	if !ok {
		return fmt.Errorf("%q is no %s", b, what)
	}
	*into = x
	return nil
}

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

// ParseSex reads "f" or "m"; anything else is unknown.
func ParseSex(s string) Sex {
	i, _ := index(sexNames[:], s)
	return Sex(i)
}

// ParseChannel reads "home", "dealer" or "shop"; any other text is taken as
// home, whose measuring error is the widest.
func ParseChannel(s string) Channel {
	i, _ := index(channelNames[:], s)
	return Channel(i)
}

func index(names []string, s string) (int, bool) {
	for i, n := range names {
		if n == s {
			return i, true
		}
	}
	return 0, false
}

// Capitalised has a large first letter, as a sentence begins.
func Capitalised(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}

// Uncapitalised begins a sentence's words small, to stand within another; names in
// capitals stay.
func Uncapitalised(s string) string {
	r := []rune(s)
	if len(r) > 1 && r[0] >= 'A' && r[0] <= 'Z' && (r[1] < 'A' || r[1] > 'Z') {
		r[0] += 'a' - 'A'
	}
	return string(r)
}

// Sentence makes a sentence of words.
func Sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.TrimSuffix(Capitalised(s), ".") + "."
}

// CountOf is a number with its noun.
func CountOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
