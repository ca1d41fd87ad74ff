// Package words reads the texts that people read on printed matter from one
// file, English with the program, another language in a shop's own file.
//
// A file is a flat YAML mapping from key to text. New reads the English one
// that a package brings; Read lays a shop's file over it and tells what it
// leaves out; Say fills the words in braces.
package words

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"lastroom/analysis/shallow"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// A Language holds texts by their keys.
type Language struct {
	texts map[string]string
	// Missing are the keys that a language file left out; they stay English.
	Missing []string
}

// New is the language that comes with the program. A text that can't be read
// gives an empty one; each package's test keeps its own readable.
func New(english []byte) *Language {
	l := &Language{texts: map[string]string{}}
	entries, err := entriesOf(english)
	if err != nil {
		return l
	}
	for _, e := range entries {
		l.texts[e.key] = e.text
	}
	return l
}

// Read reads a language file: keys as in the English one, each with a text.
// Keys that are left out stay English and are named in Missing. An unknown or
// repeated key, an empty text, or a text that has not the same words in braces
// as the English one is an error that names the line.
func Read(text, english []byte) (*Language, error) {
	if err := shallow.Check(text); err != nil {
		return nil, fmt.Errorf("the language file %w", err)
	}
	entries, err := entriesOf(text)
	if err != nil {
		return nil, err
	}
	l, plain := New(english), New(english)
	seen := map[string]bool{}
	var wrong []error
	for _, e := range entries {
		if err := e.check(plain, seen); err != nil {
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

func (e entry) check(plain *Language, seen map[string]bool) error {
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
