package lengths

import (
	"errors"
	"strconv"
	"strings"
	"unicode/utf8"
)

// vulgarFractions are the fraction signs of Unicode that tapes are marked in.
var vulgarFractions = map[rune][2]int{
	'½': {1, 2}, '⅓': {1, 3}, '⅔': {2, 3}, '¼': {1, 4}, '¾': {3, 4},
	'⅛': {1, 8}, '⅜': {3, 8}, '⅝': {5, 8}, '⅞': {7, 8},
}

func vulgar(r rune) []int {
	if f, ok := vulgarFractions[r]; ok {
		return f[:]
	}
	return nil
}

func hasFraction(s string) bool {
	return strings.ContainsAny(s, "/⁄") || strings.IndexFunc(s, func(r rune) bool { return vulgar(r) != nil }) >= 0
}

var errFraction = errors.New(`is not a fraction of an inch; write it as 14 5/8`)

// parseFraction reads `14 5/8`, `14-5/8`, `5/8`, `14⅝`.
func parseFraction(s string) (float64, error) {
	s = spellOut(s)
	head, den, _ := strings.Cut(s, "/")
	whole, num := splitWhole(strings.TrimSpace(head))
	w, err1 := count(whole)
	n, err2 := count(num)
	d, err3 := count(strings.TrimSpace(den))
	switch {
	case err1 != nil || err2 != nil || err3 != nil || num == "" || d > 128:
		return 0, errFraction
	case d == 0:
		return 0, errors.New("has a fraction over 0")
	case n >= d:
		return 0, errors.New("has a fraction of one or more; write it as 14 5/8")
	}
	return float64(w) + float64(n)/float64(d), nil
}

// spellOut turns fraction signs into digits and a slash.
func spellOut(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch f := vulgar(r); {
		case f != nil:
			b.WriteString(" " + strconv.Itoa(f[0]) + "/" + strconv.Itoa(f[1]))
		case r == '⁄':
			b.WriteByte('/')
		case r == '–' || r == '‐':
			b.WriteByte('-')
		default:
			b.WriteRune(r)
		}
	}
	return strings.TrimSpace(b.String())
}

// splitWhole parts `14 5`, `14-5` or `14 - 5` into the whole inches and the
// numerator; `5` has no whole inches.
func splitWhole(s string) (whole, num string) {
	i := strings.LastIndexFunc(s, func(r rune) bool { return r < '0' || r > '9' })
	if i < 0 {
		return "0", s
	}
	_, size := utf8.DecodeRuneInString(s[i:])
	num = s[i+size:]
	whole = strings.TrimSpace(s[:i])
	whole = strings.TrimSpace(strings.TrimSuffix(whole, "-"))
	sep := s[i : i+size]
	if sep != "-" && strings.TrimSpace(sep) != "" {
		return "x", num // some other sign between: not a fraction
	}
	return whole, num
}

// count reads up to five digits.
func count(s string) (int, error) {
	if s == "" || len(s) > 5 {
		return 0, errFraction
	}
	for _, r := range s {
		if r < '0' || r > '9' {
			return 0, errFraction
		}
	}
	return strconv.Atoi(s)
}
