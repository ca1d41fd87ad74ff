package wording

import (
	"maps"
	"regexp"
	"slices"
	"strings"
)

// A Place is what a header or a cell says of where the tape lay, as far as it
// says it.
type Place struct{ Side, Point, Height, Clothing string }

// Or fills in from other what p leaves open.
func (p Place) Or(other Place) Place {
	for _, one := range []struct {
		to   *string
		from string
	}{{&p.Side, other.Side}, {&p.Point, other.Point}, {&p.Height, other.Height}, {&p.Clothing, other.Clothing}} {
		if *one.to == "" {
			*one.to = one.from
		}
	}
	return p
}

// HeightText is a regular expression of the height of a tape, as it is written.
const HeightText = `\d+(?:[.,]\d+)?(?: \d+/\d+)?\s*(?:inches|inch|in\.?|cm|mm|"|″|”|'')?`

var heightAnywhere = regexp.MustCompile(`\b` + HeightText)

// ReadPlace reads a text that says a point, a height, a side or several of
// them: `ball`, `7"`, `length (tracing)`, `über Hose 18 cm L`. rest is what was
// not understood.
func ReadPlace(text string) (p Place, rest string) {
	text = Plain(text)
	if i := strings.IndexByte(text, '('); i > 0 { // what stands in brackets explains
		text = strings.TrimSpace(text[:i] + " " + text[strings.LastIndexByte(text, ')')+1:])
	}
	take := func(words map[string]string, into *string) {
		for _, w := range ByLength(words) {
			if rest, ok := Cut(text, w); ok && *into == "" {
				*into, text = words[w], rest
			}
		}
	}
	if m := heightAnywhere.FindStringIndex(text); m != nil {
		p.Height, p.Point = strings.TrimSpace(text[m[0]:m[1]]), "leg"
		text = strings.TrimSpace(text[:m[0]] + " " + text[m[1]:])
	}
	take(clothings, &p.Clothing)
	if p.Point == "" {
		take(Points, &p.Point)
	}
	take(Sides, &p.Side)
	return p, strings.Trim(text, " .:-–/·")
}

// ByLength are the words of a dictionary, the longest first.
func ByLength(words map[string]string) []string {
	return slices.SortedFunc(maps.Keys(words), longest)
}
