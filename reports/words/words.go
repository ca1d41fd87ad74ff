// Package words reads the texts that people read on printed matter from one file
// a language: those that come with the program, or a shop's own.
//
// A file is a flat YAML mapping from key to text. A package brings a [Catalogue];
// [Catalogue.Language] reads one of its languages, [Catalogue.Read] a shop's file
// laid over the English one, and tells what it leaves out. [Language.Say] fills the
// words in braces; numbers and days are written as the language does.
package words

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/shallow"
	"lastroom/reports/translation"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// A Language holds texts by their keys.
type Language struct {
	texts map[string]string
	// Missing are the keys that a language file left out; they stay English.
	Missing []string
}

// A Catalogue holds the texts of one kind of printed matter.
type Catalogue struct {
	// Files are the language files that come with the program, by their tags.
	Files map[string][]byte
	// Choices are the values that a text may have where it is a setting.
	Choices map[string][]string

	read sync.Map // from tag to *Language; pages ask for them again and again
}

// Tags are the languages that come with the program.
func (c *Catalogue) Tags() []string { return slices.Sorted(maps.Keys(c.Files)) }

// Language is one that comes with the program; the English one for a tag that there is
// none of. A file that can't be read gives the English texts, and English none; each
// package's test keeps its own readable.
func (c *Catalogue) Language(tag string) *Language {
	if l, known := c.read.Load(tag); known {
		return l.(*Language)
	}
	l := &Language{texts: map[string]string{}}
	for _, tag := range []string{translation.English, tag} {
		entries, _ := entriesOf(c.Files[tag])
		for _, e := range entries {
			l.texts[e.key] = e.text
		}
	}
	if _, comes := c.Files[tag]; comes { // else anybody's tag would be kept
		c.read.Store(tag, l)
	}
	return l
}

// Read reads a language file: keys as in the English one, each with a text.
// Keys that are left out stay English and are named in Missing. An unknown or
// repeated key, an empty text, or a text that has not the same words in braces
// as the English one is an error that names the line.
func (c *Catalogue) Read(text []byte) (*Language, error) {
	if err := shallow.Check(text); err != nil {
		return nil, fmt.Errorf("the language file %w", err)
	}
	entries, err := entriesOf(text)
	if err != nil {
		return nil, err
	}
	plain := c.Language(translation.English)
	l := &Language{texts: maps.Clone(plain.texts)}
	seen := map[string]bool{}
	var wrong []error
	for _, e := range entries {
		if err := e.check(plain, seen, c.Choices[e.key]); err != nil {
			wrong = append(wrong, fmt.Errorf("line %d: %w", e.line, err))
		}
		seen[e.key] = true
		l.texts[e.key] = e.text
	}
	for _, key := range slices.Sorted(maps.Keys(plain.texts)) {
		if !seen[key] {
			l.Missing = append(l.Missing, key)
		}
	}
	return l, errors.Join(wrong...)
}

// An entry is one text of a language file.
type entry struct {
	key, text string
	line      int
}

func (e entry) check(plain *Language, seen map[string]bool, choices []string) error {
	original, known := plain.texts[e.key]
	switch {
	case !known:
		return fmt.Errorf("there is no text %q", e.key)
	case seen[e.key]:
		return fmt.Errorf("%q stands twice", e.key)
	case strings.TrimSpace(e.text) == "":
		return fmt.Errorf("%q is empty; leave the line out to keep the English text", e.key)
	case e.key == "direction" && e.text != "ltr" && e.text != "rtl":
		return fmt.Errorf("direction is ltr or rtl, not %q", e.text)
	case e.key == "decimal" && e.text != "." && e.text != ",":
		return fmt.Errorf("decimal is . or , and not %q", e.text)
	case choices != nil && !slices.Contains(choices, e.text):
		return fmt.Errorf("%s is one of %s, not %q", e.key, strings.Join(choices, ", "), e.text)
	case e.key == "lang" && strings.ContainsFunc(e.text, func(r rune) bool {
		return r != '-' && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9')
	}):
		return fmt.Errorf("lang is a language tag as en or pt-BR, not %q", e.text)
	}
	for _, word := range braced.FindAllString(e.text+original, -1) {
		if strings.Contains(e.text, word) != strings.Contains(original, word) {
			return fmt.Errorf("%q must hold %s just where the English text does: %s", e.key, word, original)
		}
	}
	return nil
}

var braced = regexp.MustCompile(`\{[a-z_]+\}`)

var errLanguage = errors.New("the language file can't be read; it is a list of lines as title: Please measure again")

// entriesOf reads a flat YAML mapping with its lines. The reader's panics on
// hostile text end here.
func entriesOf(text []byte) (out []entry, err error) {
	defer func() {
		if recover() != nil {
			out, err = nil, errLanguage
		}
	}()
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, fmt.Errorf("%w:\n%w", errLanguage, err)
	}
	for _, doc := range file.Docs {
		if doc.Body == nil {
			continue
		}
		var values []*ast.MappingValueNode
		switch n := doc.Body.(type) {
		case *ast.MappingNode:
			values = n.Values
		case *ast.MappingValueNode:
			values = []*ast.MappingValueNode{n}
		default:
			return nil, errLanguage
		}
		for _, v := range values {
			e := entry{key: v.Key.GetToken().Value, line: v.Key.GetToken().Position.Line}
			switch s := v.Value.(type) {
			case *ast.StringNode:
				e.text = s.Value
			case *ast.LiteralNode:
				e.text = strings.TrimSpace(s.Value.Value)
			case *ast.NullNode:
			default:
				e.text = v.Value.GetToken().Value
			}
			e.text = strings.Join(strings.Fields(e.text), " ")
			out = append(out, e)
		}
	}
	return out, nil
}

// Say gives a text with the words in braces filled in: Say("back", "form", id).
// There is no text under a key that the English file lacks: "".
func (l *Language) Say(key string, fill ...string) string {
	text := l.texts[key]
	for i := 0; i+1 < len(fill); i += 2 {
		text = strings.ReplaceAll(text, "{"+fill[i]+"}", fill[i+1])
	}
	return text
}

// Number writes the numbers in a text, which has them with a point, as the language
// does.
func (l *Language) Number(text string) string {
	return strings.ReplaceAll(text, ".", l.texts["decimal"])
}

// Day writes a day as the language does.
func (l *Language) Day(d cohort.Day) string {
	year, rest, _ := strings.Cut(d.String(), "-")
	month, day, _ := strings.Cut(rest, "-")
	return l.Say("date", "year", year, "month", month, "day", day)
}
