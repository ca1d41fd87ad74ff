package lengths

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"lastroom/analysis/form"
)

// longest is the longest length that is read, in millimetres: nothing that is
// measured on a person comes near it, and a slip of the unit stays under it.
const longest = 100_000

// maxText is the longest text that is tried.
const maxText = 40

// Options say how numbers are written.
type Options struct {
	// DecimalComma lets `37,5` be read as 37.5. A point is read either way.
	DecimalComma bool
}

// Parse reads a length and gives it in millimetres, rounded to 0.0001 mm. unit
// is the unit of the column; form.NoUnit means that the text must carry its own.
// The error is one plain sentence without the text itself, which the caller
// shows beside it. The result is finite and above 0 when err is nil.
func Parse(text string, unit form.Unit, opt Options) (float64, error) {
	if len(text) > maxText {
		return 0, fmt.Errorf("longer than %d characters, so it is no length", maxText)
	}
	number, own := cutUnit(text)
	if own != form.NoUnit {
		if unit != form.NoUnit && unit != own {
			return 0, fmt.Errorf("written in %s, but its unit is given as %s", own, unit)
		}
		unit = own
	}
	if unit == form.NoUnit {
		return 0, errors.New("has no unit; give mm, cm or in")
	}
	x, err := parseNumber(number, unit, opt)
	if err != nil {
		return 0, err
	}
	return inMM(x, unit)
}

func inMM(x float64, unit form.Unit) (float64, error) {
	x = round(x * unit.MM())
	if x > longest {
		return 0, fmt.Errorf("longer than %d m", longest/1000)
	}
	if x <= 0 {
		return 0, errors.New("must be more than 0")
	}
	return x, nil
}

// round rounds millimetres to a ten-thousandth.
func round(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// cutUnit takes a trailing unit off the text.
func cutUnit(text string) (number string, u form.Unit) {
	text = strings.TrimSpace(text)
	end := strings.LastIndexFunc(text, func(r rune) bool {
		return unicode.IsDigit(r) || vulgar(r) != nil
	})
	if end < 0 {
		return text, form.NoUnit
	}
	_, size := utf8.DecodeRuneInString(text[end:])
	end += size
	u, ok := ParseUnit(text[end:])
	if !ok || u == form.NoUnit {
		return text, form.NoUnit
	}
	return strings.TrimSpace(text[:end]), u
}

func parseNumber(s string, unit form.Unit, opt Options) (float64, error) {
	switch {
	case s == "":
		return 0, errors.New("is empty")
	case s[0] == '-' || strings.HasPrefix(s, "−"):
		return 0, errors.New("a length can't be negative")
	}
	if !hasFraction(s) {
		return parseDecimal(s, opt)
	}
	if unit != form.Inch {
		return 0, fmt.Errorf("a fraction is read in inches only, and its unit is %s", unit)
	}
	return parseFraction(s)
}

// parseDecimal reads digits with at most one decimal mark.
func parseDecimal(s string, opt Options) (float64, error) {
	if strings.Contains(s, ",") {
		switch {
		case !opt.DecimalComma:
			return 0, errors.New("a decimal comma is read only where the comma does not separate cells; write a point")
		case strings.Count(s, ",") > 1 || strings.Contains(s, "."):
			return 0, errors.New("has more than one decimal mark; write it without marks for thousands")
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	digits := 0
	for _, r := range s {
		if r >= '0' && r <= '9' {
			digits++
		} else if r != '.' {
			return 0, errors.New("is not a length")
		}
	}
	if digits == 0 || strings.Count(s, ".") > 1 {
		return 0, errors.New("is not a length")
	}
	return strconv.ParseFloat(s, 64)
}
