package letter

import (
	_ "embed"

	"lastroom/reports/words"
)

var (
	//go:embed english.yaml
	english []byte
	//go:embed german.yaml
	german []byte
)

// Words are the letter's texts in the languages that come with the program.
var Words = &words.Catalogue{Files: map[string][]byte{words.English: english, "de": german}}

// A Language holds the letter's texts by their keys.
type Language = words.Language

// English is the built-in language.
func English() *Language { return Words.Language(words.English) }
