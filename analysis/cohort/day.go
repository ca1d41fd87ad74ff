package cohort

import (
	"fmt"
	"math"
	"time"
)

// A Day is a calendar day, counted from 1970-01-01. Days are plain numbers so
// that follow-up is subtraction; there is no clock and no time zone in here.
type Day int32

// NoDay stands where a day is not known or has not come.
const NoDay Day = math.MinInt32

// DayOf is the day of a time, in the time's own zone.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDay reads an ISO 8601 day (2026-09-30).
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return NoDay, fmt.Errorf("%q is not a day; write it as 2026-09-30", s)
	}
	return DayOf(t), nil
}

// Known reports whether d is a day at all.
func (d Day) Known() bool { return d != NoDay }

// Time is midnight UTC of the day.
func (d Day) Time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// String is the ISO 8601 day, or "" for NoDay.
func (d Day) String() string {
	if !d.Known() {
		return ""
	}
	return d.Time().Format(time.DateOnly)
}

// MarshalText writes the ISO day; NoDay is empty.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads an ISO day; empty is NoDay.
func (d *Day) UnmarshalText(b []byte) (err error) {
	if len(b) == 0 {
		*d = NoDay
		return nil
	}
	*d, err = ParseDay(string(b))
	return err
}

// A Month is a calendar month, counted from January of year 0.
type Month int32

// Month is the calendar month of the day. It must not be called on NoDay.
func (d Day) Month() Month {
	y, m, _ := d.Time().Date()
	return Month(y*12 + int(m) - 1)
}

// ParseMonth reads 2026-09.
func ParseMonth(s string) (Month, error) {
	t, err := time.Parse("2006-01", s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a month; write it as 2026-09", s)
	}
	return DayOf(t).Month(), nil
}

// First is the first day of the month; Last its last.
func (m Month) First() Day {
	return DayOf(time.Date(int(m)/12, time.Month(int(m)%12+1), 1, 0, 0, 0, 0, time.UTC))
}

// Last is the last day of the month.
func (m Month) Last() Day { return (m + 1).First() - 1 }

// Quarter is the quarter the month lies in, as the month that starts it.
func (m Month) Quarter() Month { return m - m%3 }

func (m Month) String() string { return fmt.Sprintf("%04d-%02d", int(m)/12, int(m)%12+1) }

// MarshalText writes 2026-09.
func (m Month) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads 2026-09.
func (m *Month) UnmarshalText(b []byte) (err error) {
	*m, err = ParseMonth(string(b))
	return err
}
