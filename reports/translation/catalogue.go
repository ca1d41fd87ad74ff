package translation

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
)

// A Language says English texts in another language. It may be used by several
// goroutines.
type Language struct {
	Tag string // as de, for the lang attribute

	exact    map[string]string     // sentences without holes
	patterns map[string][]*pattern // the others, by one word that they hold
	signs    *strings.Replacer     // of numbers
	said     *memory[string, telling]
	shown    *memory[[sha256.Size]byte, saidPage]
}

// A pattern is a sentence with holes, in English and in the language.
type pattern struct {
	english string
	match   func() *regexp.Regexp // made by the first who asks: most are never asked for
	holes   []string              // their names, in the order of the English sentence
	said    string                // with the holes as {name}
	letters int                   // of the English sentence outside its holes
}

// Holes by the letters that their names begin with; a digit may follow, to tell several
// apart. Any other name is a hole for a phrase, which is said in its turn.
var kinds = map[string]string{
	"n":      number,
	"day":    day,
	"month":  month,
	"id":     untouched, // stays as it is: an id, a name, what a person wrote
	"idword": oneWord,   // the same, where it has no blanks: a sentence that begins alike is another
}

const (
	oneWord   = `[^\s\x{E000}-\x{E3FF}]*[^\s,;:\x{E000}-\x{E3FF}]`
	untouched = `[^\x{E000}-\x{E3FF}]+?`
)

var (
	hole   = regexp.MustCompile(`\{([a-z]+)\d*\}`)
	tag    = regexp.MustCompile(`<(/?)(\d{1,2})(/?)>`)
	word   = regexp.MustCompile(`\p{L}{2,}`)
	spaces = regexp.MustCompile(`[ \t\r\n]+`)
)

// Marks of the links and emphasis of a unit: the k-th one opens, closes, or stands alone.
const (
	opens  = '\uE000'
	closes = '\uE100'
	alone  = '\uE200'
	most   = 0x100
)

// parse reads a catalogue: each sentence on a line of its own, and on the next, indented
// line the same in the language. A line that begins with # is a remark. Holes are {n} for
// a number, {day}, {month}, {id} for what stays as it is, and any other name for a phrase;
// links and emphasis are <1>…</1>, <2/> what stands alone, counted as they open. A
// language's sentence has the same holes and marks, in its own order. Errors name file and
// line.
func parse(language string, files map[string][]byte) (*Language, error) {
	l := &Language{Tag: language, exact: map[string]string{}, patterns: map[string][]*pattern{},
		said:  newMemory[string](mostUnits, func(telling) int { return 1 }),
		shown: newMemory[[sha256.Size]byte](mostBytes, func(p saidPage) int { return len(p.page) })}
	var all []*pattern
	for _, name := range slices.Sorted(maps.Keys(files)) {
		english, at := "", 0
		for i, line := range strings.Split(string(files[name]), "\n") {
			line = strings.TrimRight(line, " \r")
			text := strings.TrimSpace(line)
			switch {
			case text == "" || strings.HasPrefix(line, "#"):
				continue
			case text == line:
				if english != "" {
					return nil, fmt.Errorf("%s:%d: %q has no line in the language below it", name, at, english)
				}
				english, at = text, i+1
				continue
			case english == "":
				return nil, fmt.Errorf("%s:%d: there is no English sentence above %q", name, i+1, text)
			}
			p, err := l.add(english, text)
			if err != nil {
				return nil, fmt.Errorf("%s:%d: %w", name, at, err)
			}
			if p != nil {
				all = append(all, p)
			}
			english = ""
		}
		if english != "" {
			return nil, fmt.Errorf("%s:%d: %q has no line in the language below it", name, at, english)
		}
	}
	for _, needed := range append(strings.Split(strings.Trim(months, "(?:)"), "|"), tenths, thousands, dayInFigures, dayInWords, monthInFigures, monthInWords) {
		if l.exact[needed] == "" {
			return nil, fmt.Errorf("the language says nothing under %q", needed)
		}
	}
	l.signs = strings.NewReplacer(",", l.exact[thousands], ".", l.exact[tenths])
	return l, l.index(all)
}

// Forms are the forms in which a hard word of the glossary stands in texts, lower case; they
// stand in the catalogue under "in texts: " and the word's id. None: the catalogue has none.
func (l *Language) Forms(id string) []string {
	said, ok := l.exact["in texts: "+id]
	if !ok {
		return nil
	}
	return strings.Split(said, ", ")
}

// add takes a sentence in; one with holes is given back as a pattern.
func (l *Language) add(english, said string) (*pattern, error) {
	if a, b := parts(english), parts(said); !slices.Equal(a, b) {
		return nil, fmt.Errorf("the holes and marks of %q are %s in the language", english, strings.Join(b, " "))
	}
	english, said = marked(english), marked(said)
	english, were := counted(english, nil)
	said, _ = counted(said, were)
	if !hole.MatchString(english) {
		if was, ok := l.exact[english]; ok && was != said {
			return nil, fmt.Errorf("%q is said twice, as %q and %q", english, was, said)
		}
		l.exact[english] = said
		return nil, nil
	}
	p := &pattern{english: english, said: said}
	expression, rest := `^`, english
	for {
		at := hole.FindStringSubmatchIndex(rest)
		if at == nil {
			break
		}
		kind, known := kinds[rest[at[2]:at[3]]]
		if !known {
			kind = untouched
		}
		expression += regexp.QuoteMeta(rest[:at[0]]) + `(` + kind + `)`
		p.letters += letters(rest[:at[0]])
		p.holes = append(p.holes, rest[at[0]+1:at[1]-1])
		rest = rest[at[1]:]
	}
	p.letters += letters(rest)
	expression += regexp.QuoteMeta(rest) + `$`
	p.match = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
	return p, nil
}

// index files each pattern under its rarest word, so that a unit is held against few; the
// pattern with most letters comes first.
func (l *Language) index(all []*pattern) error {
	count := map[string]int{}
	for _, p := range all {
		for _, w := range wordsOf(hole.ReplaceAllString(p.english, " ")) {
			count[w]++
		}
	}
	for _, p := range all {
		words := wordsOf(hole.ReplaceAllString(p.english, " "))
		if len(words) == 0 {
			return fmt.Errorf("%q has no word of its own beside its holes", p.english)
		}
		rarest := slices.MinFunc(words, func(a, b string) int { return cmp.Compare(count[a], count[b]) })
		l.patterns[rarest] = append(l.patterns[rarest], p)
	}
	return nil
}

// parts are a sentence's holes and marks, sorted.
func parts(s string) []string {
	out := append(hole.FindAllString(s, -1), tag.FindAllString(s, -1)...)
	slices.Sort(out)
	return out
}

// marked writes <1>, </1> and <1/> as the marks that units have.
func marked(s string) string {
	return tag.ReplaceAllStringFunc(s, func(m string) string {
		k := rune(0)
		for _, r := range m {
			if unicode.IsDigit(r) {
				k = 10*k + r - '0'
			}
		}
		switch {
		case m[1] == '/':
			return string(closes + k)
		case m[len(m)-2] == '/':
			return string(alone + k)
		}
		return string(opens + k)
	})
}

func letters(s string) int {
	n := 0
	for _, r := range s {
		if unicode.IsLetter(r) {
			n++
		}
	}
	return n
}

func wordsOf(s string) []string { return word.FindAllString(strings.ToLower(s), -1) }
