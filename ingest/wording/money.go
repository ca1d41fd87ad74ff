package wording

import (
	"regexp"
	"strings"
)

// A Decimal is the decimal sign of a table.
type Decimal uint8

// The decimal signs. With Either, a comma in a length is a decimal sign, which
// thousands never have; in money it must show by itself which it is.
const (
	Point Decimal = iota
	Comma
	Either
)

var grouped = map[Decimal]*regexp.Regexp{
	Point: regexp.MustCompile(`^\d{1,3}([,' ’]\d{3})+(\.\d+)?$`),
	Comma: regexp.MustCompile(`^\d{1,3}([.' ’]\d{3})+(,\d+)?$`),
}

// PlainMoney writes a sum of money as the order sheets have it, 1250.00, by
// the decimal sign of the table. What can't be told stays as it is, and is then
// refused with its reason.
func PlainMoney(text string, d Decimal) string {
	t := strings.TrimSpace(strings.Trim(strings.TrimSpace(text), "$€£¥ \u00a0"))
	t = strings.TrimSuffix(strings.TrimSuffix(t, ",-"), ",–")
	for _, word := range []string{"EUR", "USD", "GBP", "CHF"} {
		t = strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(t, word), word))
	}
	if strings.Trim(t, "0123456789.,' ’") != "" || t == "" {
		return text
	}
	if d == Either {
		return t // by its shape, as any sheet's
	}
	point := "."
	if d == Comma {
		point = ","
	}
	if grouped[d].MatchString(t) {
		t = strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' || string(r) == point {
				return r
			}
			return -1
		}, t)
	}
	whole, cents, both := strings.Cut(t, point)
	if strings.Trim(whole+cents, "0123456789") != "" {
		return text
	}
	if !both {
		return whole
	}
	return whole + "." + cents + "0000"[:max(0, 4-len(cents))]
}
