package wording

import (
	"errors"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// An Order says which of the numbers of a day is the month.
type Order uint8

// The orders of day and month; a year of four digits in front is seen anyway.
const (
	NoOrder Order = iota
	DayFirst
	MonthFirst
)

func (o Order) String() string { return [...]string{"", "day first", "month first"}[o] }

// ParseOrder reads "day first", "month first", or a pattern such as DD.MM.YYYY.
func ParseOrder(text string) (Order, bool) {
	t := strings.ToUpper(Plain(text))
	switch t {
	case "DAY FIRST":
		return DayFirst, true
	case "MONTH FIRST":
		return MonthFirst, true
	case "YEAR FIRST":
		return NoOrder, true
	}
	if strings.Trim(t, "DMY./- ") != "" || !strings.Contains(t, "Y") {
		return NoOrder, false
	}
	d, m, y := strings.Index(t, "D"), strings.Index(t, "M"), strings.Index(t, "Y")
	switch {
	case d < 0 || m < 0:
		return NoOrder, false
	case y < d && y < m:
		return NoOrder, true
	case d < m:
		return DayFirst, true
	}
	return MonthFirst, true
}

var (
	errNoDay    = errors.New("is not a day")
	errTwoDays  = errors.New("may be day first or month first")
	errOutside  = errors.New("is a day outside the years 1990 to 2099")
	errNoSuch   = errors.New("is no day of the calendar")
	errAgainst  = errors.New("does not fit the order of day and month that the mapping says")
	errBareYear = errors.New("is a number, not a day")
)

// ReadDay reads a day as workshops write it: 2026-09-30, 30.9.26, 9/30/2026,
// 30-Sep-26, Sept. 30, 2026, with or without a time behind it. order is needed
// where both numbers before the year may be the month; a day that goes against
// it is none. A year of two digits is of this century up to 79.
func ReadDay(text string, order Order) (time.Time, error) {
	text = clockTime.ReplaceAllString(strings.TrimSpace(text), "")
	parts := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune("./-, '’", r) || unicode.IsSpace(r) })
	if len(parts) == 4 || len(parts) == 5 { // "de", "of" between: 3 de mayo de 2023
		parts = dropJoins(parts)
	}
	if len(parts) == 1 {
		return time.Time{}, errBareYear
	}
	if strings.Trim(text, "0123456789./- ") == "" && !oneSign(text) { // 10-1/2 is a length
		return time.Time{}, errNoDay
	}
	if len(parts) != 3 {
		return time.Time{}, errNoDay
	}
	var n [3]int
	month, year := -1, -1
	for i, p := range parts {
		p = strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(p, "th"), "st"), "nd"), "rd")
		if m, ok := monthNamed(p); ok && month < 0 {
			n[i], month = m, i
			continue
		}
		x, err := strconv.Atoi(p)
		if err != nil || x < 0 || len(p) > 4 || len(p) == 3 {
			return time.Time{}, errNoDay
		}
		n[i] = x
		if len(p) == 4 && year < 0 {
			year = i
		}
	}
	if year < 0 {
		year = 2
	}
	switch {
	case year == 1 || month == year:
		return time.Time{}, errNoDay
	case month >= 0: // named: the day is what is left
	case year == 0:
		month = 1
	case n[0] > 12 && n[1] > 12:
		return time.Time{}, errNoSuch
	case order == NoOrder && n[0] > 12:
		month = 1
	case order == NoOrder && n[1] > 12:
		month = 0
	case order == NoOrder && n[0] == n[1]:
		month = 0
	case order == NoOrder:
		return time.Time{}, errTwoDays
	case order == DayFirst:
		month = 1
	default:
		month = 0
	}
	if n[month] > 12 {
		return time.Time{}, errAgainst
	}
	y := n[year]
	if len(parts[year]) <= 2 {
		if y += 2000; y >= 2080 {
			y -= 100
		}
	}
	d := n[3-month-year]
	if y < 1980 || y > 2099 {
		return time.Time{}, errOutside
	}
	day := time.Date(y, time.Month(n[month]), d, 0, 0, 0, 0, time.UTC)
	if day.Day() != d || n[month] < 1 || d < 1 {
		return time.Time{}, errNoSuch
	}
	return day, nil
}

// oneSign reports whether the figures of a day are parted by one and the same
// sign.
func oneSign(text string) bool {
	text = strings.ReplaceAll(text, " ", "")
	sign := strings.Trim(text, "0123456789")
	at := strings.IndexAny(text, "./-")
	return at > 0 && sign != "" && len(strings.Split(text, text[at:at+1])) == 3
}

func dropJoins(parts []string) (out []string) {
	for _, p := range parts {
		switch strings.ToLower(p) {
		case "de", "del", "of", "di":
		default:
			out = append(out, p)
		}
	}
	return out
}

// monthNamed reads the name of a month, written out or Cut short.
func monthNamed(text string) (int, bool) {
	t := []rune(strings.ToLower(text))
	if len(t) < 3 || !unicode.IsLetter(t[0]) {
		return 0, false
	}
	m, ok := months[string(t[:3])]
	return m, ok
}
