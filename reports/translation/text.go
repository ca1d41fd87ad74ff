package translation

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A telling is a text said in the language, and what of it no sentence fits.
type telling struct {
	said   string
	untold []string
}

// Text says a text without marks in the language; nil, for English, gives it back. What no
// sentence fits stays as it is.
func (l *Language) Text(s string) string {
	if l == nil {
		return s
	}
	return l.tell(withoutMarks(s)).said
}

// tell says a unit: as a whole, or sentence by sentence, or piece by piece.
func (l *Language) tell(unit string) telling {
	unit = spaces.ReplaceAllString(unit, " ")
	if t, ok := l.said.get(unit); ok {
		return t
	}
	t := l.compose(unit)
	l.said.put(unit, t)
	return t
}

// sentences parts a unit into its sentences, joints a sentence that none of the catalogue
// fits, the coarser first.
var sentences = regexp.MustCompile(`[.!?\]][”")\x{E100}-\x{E1FF}]*( )[\x{E000}-\x{E2FF}“"(]*(?:[\p{Lu}\d]|\[)`)

var joints = []*regexp.Regexp{
	regexp.MustCompile(`[\x{E100}-\x{E1FF}][:,;]?( )[\x{E000}-\x{E0FF}]`), // a figure's title and what it shows
	regexp.MustCompile(`;( )`),
	regexp.MustCompile(`( · )`),
	regexp.MustCompile(`( – )`),
	regexp.MustCompile(`:( )`),
	regexp.MustCompile(`,( )`),
	regexp.MustCompile(`( )\(`),
	regexp.MustCompile(`(\x{A0})[\x{E000}-\x{E0FF}]`), // a column's unit
}

var listed = regexp.MustCompile(`,( )`)

// between are the texts between blanks: in €&nbsp;1,200 there are two.
var between = regexp.MustCompile(`[^ \x{A0}]+`)

// compose says a text by the first way that leaves nothing untold; where none does, by one
// sentence of the catalogue, some of whose phrases stay.
func (l *Language) compose(s string) telling {
	whole, fits := l.whole(s, false)
	if fits && len(whole.untold) == 0 {
		return whole
	}
	if file.MatchString(s) {
		return telling{s, nil}
	}
	if pieces := split(s, sentences); len(pieces) > 1 {
		t := l.pieces(pieces)
		if len(t.untold) == 0 {
			return t
		}
		if wide, fits := l.whole(s, true); fits && len(t.untold) > len(wide.untold) {
			return wide
		}
		return t
	}
	if inner, open, shut, ok := unwrapped(s); ok {
		if t := l.compose(inner); len(t.untold) == 0 {
			return telling{open + t.said + shut, nil}
		}
	}
	for _, joint := range joints { // a sentence is said whole or not at all
		if pieces := split(s, joint); len(pieces) > 1 {
			if t := l.parted(pieces); len(t.untold) == 0 {
				return t
			}
		}
	}
	if fits {
		return whole
	}
	if wide, fits := l.whole(s, true); fits {
		return wide
	}
	if before, names, ok := strings.Cut(s, " ("); ok && before != "" && strings.HasSuffix(s, ")") && balanced(before) {
		if t := l.compose(before); len(t.untold) == 0 { // the bracket may hold names
			in := l.pieces(split("("+names, listed))
			return telling{t.said + " " + in.said, in.untold}
		}
	}
	if needsWords(s) {
		return telling{s, []string{s}}
	}
	return telling{between.ReplaceAllStringFunc(s, func(w string) string {
		if said, ok := l.figure(w); ok {
			return said
		}
		return w
	}), nil}
}

// pieces says every other one of some; what stands between stays.
func (l *Language) pieces(of []string) telling {
	var t telling
	for i, p := range of {
		if i%2 == 1 {
			t.said += p
			continue
		}
		one := l.compose(p)
		t.said += one.said
		t.untold = append(t.untold, one.untold...)
	}
	return t
}

// parted says a text in two at one of its joints, the first one at which both can be said:
// what stands behind a file's name may have joints of its own and be one sentence.
func (l *Language) parted(pieces []string) telling {
	var t telling
	for at := 1; at < len(pieces); at += 2 {
		front := l.tell(strings.Join(pieces[:at], ""))
		back := l.tell(strings.Join(pieces[at+1:], ""))
		t = telling{front.said + pieces[at] + back.said, append(slices.Clone(front.untold), back.untold...)}
		if len(t.untold) == 0 {
			return t
		}
	}
	return t
}

// split parts a text at the first group of each match: pieces, with what stood between
// them in the odd places. Pieces keep their marks in pairs.
func split(s string, joint *regexp.Regexp) []string {
	var out []string
	from := 0
	for at := 0; at < len(s); {
		m := joint.FindStringSubmatchIndex(s[at:])
		if m == nil {
			break
		}
		end, next := at+m[2], at+m[3]
		if end > from && balanced(s[from:end]) {
			out = append(out, s[from:end], s[end:next])
			from = next
		}
		at = max(next, at+1)
	}
	return append(out, s[from:])
}

// balanced reports whether each mark that opens in a text closes in it.
func balanced(s string) bool {
	open := 0
	for _, r := range s {
		switch {
		case r >= opens && r < opens+most:
			open++
		case r >= closes && r < closes+most:
			open--
		}
	}
	return open == 0
}

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
			m := p.match().FindStringSubmatch(v.text)
			if m == nil || p.misfits(v.text, m[1:]) || !wide && p.isWide(m[1:]) {
				continue
			}
			t := l.filled(p, m[1:])
			t.said = recounted(v.back(t.said), were)
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
		if said, ok := l.exact[v.text]; ok {
			return v.back(said), true
		}
	}
	return l.figure(s)
}

// unwrapped takes the pair of marks off that is around all of a text, and signs that are
// no part of a sentence off its ends.
func unwrapped(s string) (inner, open, shut string, ok bool) {
	first, n := utf8.DecodeRuneInString(s)
	last, m := utf8.DecodeLastRuneInString(s)
	if first >= opens && first < opens+most && last == first-opens+closes {
		return s[n : len(s)-m], s[:n], s[len(s)-m:], true
	}
	for _, pair := range []struct{ open, shut string }{{"[", "]"}, {"(", ")"}} {
		if strings.HasPrefix(s, pair.open) && strings.HasSuffix(s, pair.shut) && balanced(s) {
			return s[1 : len(s)-1], pair.open, pair.shut, len(s) > 2
		}
	}
	for _, brackets := range []struct{ open, shut string }{{"", "."}, {"([“\"", ")]”.\""}} { // a bracket or quote at the end may be a part
		inner = strings.TrimLeftFunc(s, func(r rune) bool { return atEnds(r, brackets.open) })
		open = s[:len(s)-len(inner)]
		rest := strings.TrimRightFunc(inner, func(r rune) bool { return atEnds(r, brackets.shut) })
		shut = inner[len(rest):]
		if rest != "" && len(rest) < len(s) && balanced(rest) {
			return rest, open, shut, true
		}
	}
	return s, "", "", false
}

func atEnds(r rune, also string) bool {
	return unicode.IsSpace(r) || r >= alone && r < alone+most || strings.ContainsRune("·–—→←↑↓▲▼✓×:,;…"+also, r)
}

// A variant is a text as a catalogue may have it, and the way back.
type variant struct {
	text string
	back func(string) string
}

// variants are a text as it stands, and with its first letter the other way: a phrase that
// begins a sentence, a title within one.
func variants(s string) []variant {
	same := variant{s, func(t string) string { return t }}
	r, n := utf8.DecodeRuneInString(s)
	switch {
	case unicode.IsUpper(r):
		return []variant{same, {string(unicode.ToLower(r)) + s[n:], capital}}
	case unicode.IsLower(r):
		return []variant{same, {string(unicode.ToUpper(r)) + s[n:], same.back}}
	}
	return []variant{same}
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

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

// file is the name of a file, blanks in it too; fileFirst a text that begins with one.
var (
	file      = regexp.MustCompile(fileName + `$`)
	fileFirst = regexp.MustCompile(fileName + `(?:$|[ ,:;])`)
)

const fileName = `^[^.:;,]{1,80}\.(?:csv|tsv|tab|txt|xlsx|xlsm|xlsb|xls|ods|parquet|yaml|yml|md|json|html|duckdb)`

// needsWords reports whether a text that no sentence fits has words in it: an id, a sign
// or a unit is none.
func needsWords(s string) bool {
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) || r >= opens && r < alone+most }) {
		w = strings.Trim(w, `.,;:()“”"!?…`)
		if n := len([]rune(w)); n < 2 || w == "mm" || w == "cm" || strings.ContainsAny(w, "0123456789_/.@") {
			continue
		}
		lower := true
		for i, r := range w {
			if i > 0 && !unicode.IsLower(r) && r != '-' && r != '’' && r != '\'' {
				lower = false
			}
		}
		if lower {
			return true
		}
	}
	return false
}
