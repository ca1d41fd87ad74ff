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

// Message says what went wrong, a message of one or more lines, where all of it can be
// said: half a sentence in each of two languages helps nobody. nil gives it back.
func (l *Language) Message(s string) string {
	if l == nil {
		return s
	}
	lines := strings.Split(s, "\n")
	for i, line := range lines {
		t := l.tell(withoutMarks(line))
		if len(t.untold) > 0 {
			return s
		}
		lines[i] = t.said
	}
	return strings.Join(lines, "\n")
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

// compose says a text by the first of these ways that leaves nothing untold:
//
//  1. one sentence of the catalogue is all of it;
//  2. it is the name of a file, which stays;
//  3. it is several sentences, each of which is said;
//  4. marks, brackets or signs are around it, and what is inside is said;
//  5. it has two parts, of which each is said: at the coarsest joint that leaves nothing untold.
//
// Where none does, some of it stays: of several sentences those that can't be said; else the
// phrases of one sentence that fits, or the names in a bracket behind what can be said; else
// all of it, but for its numbers and days where it has no words.
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

// file is the name of a file, blanks in it too; fileFirst a text that begins with one.
var (
	file      = regexp.MustCompile(fileName + `$`)
	fileFirst = regexp.MustCompile(fileName + `(?:$|[ ,:;])`)
)

const fileName = `^[^.:;,]{1,80}\.(?:csv|tsv|tab|txt|xlsx|xlsm|xlsb|xls|ods|parquet|yaml|yml|md|json|html|duckdb)`

// needsWords reports whether a text that no sentence fits has words in it: an id, a sign,
// a unit or a flag of the command line is none.
func needsWords(s string) bool {
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) || r >= opens && r < alone+most }) {
		w = strings.Trim(w, `.,;:()“”"!?…`)
		if n := len([]rune(w)); n < 2 || w == "mm" || w == "cm" || strings.HasPrefix(w, "--") || strings.ContainsAny(w, "0123456789_/.@") {
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
