package letter

import (
	_ "embed"

	"lastroom/reports/words"
)

//go:embed english.yaml
var english []byte

// A Language holds the letter's texts by their keys.
type Language = words.Language

// English is the built-in language.
func English() *Language { return words.New(english) }

// ReadLanguage reads a language file laid over the built-in one.
func ReadLanguage(text []byte) (*Language, error) { return words.Read(text, english) }
