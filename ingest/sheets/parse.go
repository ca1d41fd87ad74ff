package sheets

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

// A Value is what the text of a cell means. Which part is set follows from the
// Kind; Known is false for an empty cell and for "unknown".
type Value struct {
	Known  bool
	Text   string
	Day    time.Time
	Yes    bool
	Number float64 // whole numbers, money, and lengths in millimetres
}

// Parse reads the text of a cell. unit is the unit of a Length; NoUnit means
// that the text must carry its own. The error is one plain sentence without
// the text itself.
func (c Column) Parse(text string, unit form.Unit, opt lengths.Options) (Value, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return c.empty()
	}
	v := Value{Known: true, Text: text}
	var err error
	switch c.Kind {
	case Day:
		v.Day, err = ParseDay(text)
	case YesNo:
		v.Yes, v.Known, err = parseYesNo(text)
	case Whole:
		v.Number, err = parseWhole(text)
	case Money:
		v.Number, err = parseMoney(text)
	case Length:
		v.Number, err = lengths.Parse(text, unit, opt)
	case Word, Open:
		v.Text, err = c.parseWord(text)
	}
	if err != nil {
		return Value{}, err
	}
	return v, nil
}

func (c Column) empty() (Value, error) {
	if c.Must || c.Kind == ID {
		return Value{}, errors.New("is empty, but a row needs it")
	}
	return Value{}, nil
}

// ParseDay reads an ISO 8601 day, 2026-09-30, between the years 1900 and 2199.
func ParseDay(text string) (time.Time, error) {
	d, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return time.Time{}, errors.New("is not a day; write it as 2026-09-30")
	}
	if d.Year() < 1900 || d.Year() > 2199 {
		return time.Time{}, errors.New("is a day outside the years 1900 to 2199")
	}
	return d, nil
}

// parseYesNo reads yes, no or unknown, and true, false, y, n, 1, 0.
func parseYesNo(text string) (yes, known bool, err error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "yes", "y", "true", "1":
		return true, true, nil
	case "no", "n", "false", "0":
		return false, true, nil
	case "unknown", "":
		return false, false, nil
	}
	return false, false, errors.New("is not yes, no or unknown")
}

func parseWhole(text string) (float64, error) {
	n, err := strconv.ParseInt(text, 10, 32)
	if err != nil || n < 0 {
		return 0, errors.New("is not a whole number")
	}
	return float64(n), nil
}

var errMoney = errors.New("is not a plain number; write it as 1234.50, without a currency sign")

// parseMoney reads a plain number of at least 0. Where it has both a point and
// a comma the last is the decimal sign and the other parts thousands; a single
// one with three digits behind it may be either, and is refused.
func parseMoney(text string) (float64, error) {
	if strings.Trim(text, "0123456789.,") != "" {
		return 0, errMoney
	}
	last := strings.LastIndexAny(text, ".,")
	if last >= 0 {
		sign := text[last : last+1]
		whole, cents := text[:last], text[last+1:]
		other := strings.Trim(",.", sign)
		switch {
		case strings.Contains(whole, sign): // the same sign again parts thousands: 1.250.000
			if strings.Contains(text, other) || !groups(text, sign) {
				return 0, errMoney
			}
			text = strings.ReplaceAll(text, sign, "")
		case strings.Contains(whole, other):
			if !groups(whole, other) {
				return 0, errMoney
			}
			text = strings.ReplaceAll(whole, other, "") + "." + cents
		case len(cents) == 3 && len(whole) <= 3 && whole != "" && whole[0] != '0':
			return 0, fmt.Errorf("may be %s or %s.%s; write it without a sign for thousands, and with two digits behind the decimal point", whole+cents, whole, cents)
		default:
			text = whole + "." + cents
		}
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(x, 0) || x > 1e12 {
		return 0, errMoney
	}
	return x, nil
}

// groups reports whether a sign parts a number into thousands.
func groups(text, sign string) bool {
	parts := strings.Split(text, sign)
	for i, p := range parts {
		if i > 0 && len(p) != 3 || len(p) == 0 || len(p) > 3 {
			return false
		}
	}
	return true
}

// parseWord finds the column's word, whatever its case, blanks, '-' and '_'.
func (c Column) parseWord(text string) (string, error) {
	if w, ok := c.word(text); ok {
		return w, nil
	}
	if c.Kind == Open {
		return text, nil
	}
	return "", fmt.Errorf("is none of %s", strings.Join(c.Words, ", "))
}

func (c Column) word(text string) (string, bool) {
	folded := Fold(text)
	for _, w := range c.Words {
		if Fold(w) == folded {
			return w, true
		}
	}
	if c.IsUnit() {
		if u, ok := lengths.ParseUnit(text); ok && u != form.NoUnit {
			return u.String(), true
		}
	}
	return "", false
}

// Fold is the spelling under which headers and words are compared: lower case,
// and any run of blanks, '-' and '_' a single '_'.
func Fold(name string) string {
	parts := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == '-' || r == '_' || r == '\t' || r == '\n' || r == '\r' || r == '\u00a0' || r == '\ufeff'
	})
	return strings.Join(parts, "_")
}
