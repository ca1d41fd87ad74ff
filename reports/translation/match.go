package translation

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// whole says a text by one sentence of the catalogue, with what of its phrases is untold.
// A piece of a unit has its marks counted from its own beginning, as the catalogue has them.
// A hole holds several sentences, and what stays as it is parts of one, only with wide:
// mostly it is then a sentence of its own, which must be said by itself. Of the sentences
// that fit the one with most letters is taken that leaves nothing untold, or else the first.
func (l *Language) whole(s string, wide bool) (best telling, fits bool) {
	s, were := counted(s, nil)
	if said, ok := l.plain(s); ok {
		return telling{recounted(said, were), nil}, true
	}
	var candidates []*pattern
	for _, w := range wordsOf(s) {
		for _, p := range l.patterns[w] {
			if !slices.Contains(candidates, p) {
				candidates = append(candidates, p)
			}
		}
	}
	slices.SortStableFunc(candidates, func(a, b *pattern) int { return b.letters - a.letters })
	for _, v := range variants(s) {
		for _, p := range candidates {
			m := p.match().FindStringSubmatch(v)
			if m == nil || p.misfits(v, m[1:]) || !wide && p.isWide(m[1:]) {
				continue
			}
			t := l.filled(p, m[1:])
			t.said = recounted(likewise(t.said, v, s), were)
			if len(t.untold) == 0 {
				return t, true
			}
			if !fits {
				best, fits = t, true
			}
		}
	}
	return best, fits
}

// misfits reports whether a sentence only seems to fit: with a sign in its last hole that
// stands behind the text, or since the name of a file begins as it does, as in "Order
// ledger.xlsx".
func (p *pattern) misfits(text string, filled []string) bool {
	const few = 9 // letters
	if n := len(filled); n > 0 && strings.HasSuffix(p.english, "}") && strings.ContainsRune(";:,", rune(filled[n-1][len(filled[n-1])-1])) {
		return true
	}
	return p.letters < few && !strings.HasPrefix(p.english, "{") && staysAsIs(p.holes[0]) && fileFirst.MatchString(text)
}

// filled is a sentence with its holes filled, phrases said in their turn.
func (l *Language) filled(p *pattern, with []string) telling {
	t := telling{said: p.said}
	for i, name := range p.holes {
		text := with[i]
		if !staysAsIs(name) {
			one := l.tell(text)
			text = one.said
			t.untold = append(t.untold, one.untold...)
		}
		t.said = strings.ReplaceAll(t.said, "{"+name+"}", text)
	}
	return t
}

// counted gives a text with its marks counted from 1 as they open, after those that were
// counted already, and what the numbers of all were.
func counted(s string, were []rune) (string, []rune) {
	s = strings.Map(func(r rune) rune {
		if r < opens || r >= alone+most {
			return r
		}
		k := (r - opens) % most
		at := slices.Index(were, k)
		if at < 0 {
			at, were = len(were), append(were, k)
		}
		return r - k + rune(at) + 1
	}, s)
	return s, were
}

// recounted gives a text's marks the numbers that they had.
func recounted(s string, were []rune) string {
	return strings.Map(func(r rune) rune {
		if r < opens || r >= alone+most {
			return r
		}
		k := (r - opens) % most
		return r - k + were[k-1]
	}, s)
}

func (p *pattern) isWide(filled []string) bool {
	for i, name := range p.holes {
		if sentences.MatchString(filled[i]) || staysAsIs(name) && (strings.Contains(filled[i], "; ") || strings.Contains(filled[i], ": ")) {
			return true
		}
	}
	return false
}

func staysAsIs(hole string) bool { return strings.HasPrefix(hole, "id") }

// plain says what needs no hole: a sentence, a number, a day, a month.
func (l *Language) plain(s string) (string, bool) {
	for _, v := range variants(s) {
		if said, ok := l.exact[v]; ok {
			return likewise(said, v, s), true
		}
	}
	return l.figure(s)
}

// variants are the ways in which a catalogue may have a text: as it stands, and with its first
// letter the other way, as a phrase that begins a sentence, or a title within one.
func variants(s string) []string {
	r, n := utf8.DecodeRuneInString(s)
	switch {
	case unicode.IsUpper(r):
		return []string{s, string(unicode.ToLower(r)) + s[n:]}
	case unicode.IsLower(r):
		return []string{s, string(unicode.ToUpper(r)) + s[n:]}
	}
	return []string{s}
}

// likewise gives what is said of a variant the first letter of the text: a capital where the
// text has one. Where it has none the language may want one all the same.
func likewise(said, variant, text string) string {
	if variant == text || !unicode.IsUpper(firstOf(text)) {
		return said
	}
	r, n := utf8.DecodeRuneInString(said)
	return string(unicode.ToUpper(r)) + said[n:]
}

func firstOf(s string) rune {
	r, _ := utf8.DecodeRuneInString(s)
	return r
}
