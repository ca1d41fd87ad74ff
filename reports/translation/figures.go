package translation

import (
	"regexp"
	"strings"
)

// How numbers, days and months stand in English texts.
const (
	number = `[−+-]?[£€$]?\d(?:[\d,]*\d)?(?:\.\d+)?(?:\s?%)?`
	months = `(?:January|February|March|April|May|June|July|August|September|October|November|December)`
	day    = `(?:\d{1,2} ` + months + ` \d{4}|\d{4}-\d{2}-\d{2})`
	month  = `(?:` + months + ` \d{4}|\d{4}-\d{2})`
)

// What a language says of numbers and days: signs, and forms as D. M Y.
const (
	tenths         = "sign before tenths"
	thousands      = "sign between thousands"
	dayInFigures   = "a day in figures"
	dayInWords     = "a day in words"
	monthInFigures = "a month in figures"
	monthInWords   = "a month in words"
)

var isNumber, isDay, isMonth = regexp.MustCompile(`^` + number + `$`), regexp.MustCompile(`^` + day + `$`), regexp.MustCompile(`^` + month + `$`)

// figure writes a number, a day or a month as the language does: the catalogue says how.
func (l *Language) figure(s string) (string, bool) {
	switch {
	case isNumber.MatchString(s):
		return l.signs.Replace(s), true
	case isDay.MatchString(s) || isMonth.MatchString(s):
		if year, rest, iso := strings.Cut(s, "-"); iso {
			m, d, isDay := strings.Cut(rest, "-")
			if !isDay {
				return fill(l.exact[monthInFigures], year, m, ""), true
			}
			return fill(l.exact[dayInFigures], year, m, d), true
		}
		words := strings.Fields(s)
		if len(words) == 2 {
			return fill(l.exact[monthInWords], words[1], l.exact[words[0]], ""), true
		}
		return fill(l.exact[dayInWords], words[2], l.exact[words[1]], words[0]), true
	}
	return "", false
}

// fill writes a day by its form in the catalogue, as D. M Y.
func fill(form, year, month, day string) string {
	return strings.NewReplacer("Y", year, "M", month, "D", day).Replace(form)
}
