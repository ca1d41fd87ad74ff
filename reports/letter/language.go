package letter

import (
	_ "embed"
	"slices"

	"lastroom/reports/words"
)

//go:embed english.yaml
var english []byte

// EnglishYAML is the text of the built-in language file, to be copied and
// translated.
func EnglishYAML() []byte { return slices.Clone(english) }

// A Language holds the letter's texts by their keys.
type Language = words.Language

// English is the built-in language.
func English() *Language { return words.New(english) }

// ReadLanguage reads a language file laid over the built-in one.
func ReadLanguage(text []byte) (*Language, error) { return words.Read(text, english) }
