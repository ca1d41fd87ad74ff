package letter

import (
	"lastroom/reports/translation"
	"lastroom/reports/words"
)

// Words are the letter's texts in the languages that come with the program.
var Words = &words.Catalogue{Files: translation.Keyed("letter")}

// A Language holds the letter's texts by their keys.
type Language = words.Language

// English is the built-in language.
func English() *Language { return Words.Language(translation.English) }
