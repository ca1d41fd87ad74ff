package letter

import (
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

//go:embed english.yaml
var english []byte

// EnglishYAML is the text of the built-in language file, to be copied and
// translated.
func EnglishYAML() []byte { return slices.Clone(english) }

// A Language holds the letter's texts by their keys.
type Language struct {
	texts map[string]string
	// Missing are the keys that a language file left out; they stay English.
	Missing []string
}

// English is the built-in language.
func English() *Language {
	l := &Language{texts: map[string]string{}}
	entries, err := entriesOf(english)
	if err != nil {
		return l // the package's test keeps the embedded file readable
	}
	for _, e := range entries {
		l.texts[e.key] = e.text
	}
	return l
}

const maxBytes = 1 << 18

// ReadLanguage reads a language file: keys as in EnglishYAML, each with a text.
// Keys that are left out stay English and are named in Missing. An unknown or
// repeated key, an empty text, or a text that lacks a word in braces is an
// error that names the line.
func ReadLanguage(text []byte) (*Language, error) {
	if len(text) > maxBytes {
		return nil, fmt.Errorf("the language file is larger than %d bytes", maxBytes)
	}
	entries, err := entriesOf(text)
	if err != nil {
		return nil, err
	}
	l, plain := English(), English()
	seen := map[string]bool{}
	var wrong []error
	for _, e := range entries {
		if err := e.check(plain, seen); err != nil {
			wrong = append(wrong, fmt.Errorf("line %d: %w", e.line, err))
		}
		seen[e.key] = true
		l.texts[e.key] = e.text
	}
	for _, key := range plain.keys() {
		if !seen[key] {
			l.Missing = append(l.Missing, key)
		}
	}
	return l, errors.Join(wrong...)
}

func (l *Language) keys() (keys []string) {
	entries, _ := entriesOf(english)
	for _, e := range entries {
		keys = append(keys, e.key)
	}
	return keys
}

// An entry is one text of a language file.
type entry struct {
	key, text string
	line      int
}

func (e entry) check(plain *Language, seen map[string]bool) error {
	original, known := plain.texts[e.key]
	switch {
	case !known:
		return fmt.Errorf("there is no text %q in the letter", e.key)
	case seen[e.key]:
		return fmt.Errorf("%q stands twice", e.key)
	case strings.TrimSpace(e.text) == "":
		return fmt.Errorf("%q is empty; leave the line out to keep the English text", e.key)
	case e.key == "direction" && e.text != "ltr" && e.text != "rtl":
		return fmt.Errorf("direction is ltr or rtl, not %q", e.text)
	case e.key == "lang" && strings.ContainsFunc(e.text, func(r rune) bool {
		return r != '-' && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9')
	}):
		return fmt.Errorf("lang is a language tag as en or pt-BR, not %q", e.text)
	}
	for _, word := range braces {
		if strings.Contains(e.text, word) != strings.Contains(original, word) {
			return fmt.Errorf("%q must hold %s just where the English text does: %s", e.key, word, original)
		}
	}
	return nil
}

var braces = []string{"{form}", "{day}", "{height}", "{point}"}

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

// say gives a text with the words in braces filled in: say("back", "form", id).
func (l *Language) say(key string, fill ...string) string {
	text := l.texts[key]
	for i := 0; i+1 < len(fill); i += 2 {
		text = strings.ReplaceAll(text, "{"+fill[i]+"}", fill[i+1])
	}
	return text
}
