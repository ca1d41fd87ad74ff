package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/sheet"
	"lastroom/reports/translation"
	"lastroom/reports/words"
)

// languageFlag declares the flag that says in which language printed matter comes.
func languageFlag(c *cobra.Command, of *words.Catalogue, what string) *string {
	return fileFlag(c, "language", "", fmt.Sprintf("the language: %s, or a `FILE` with %s in another, or your own", strings.Join(of.Tags(), ", "), what), "yaml", "yml")
}

// printLanguage prints the English words, to be copied and translated.
func (a *app) printLanguage(of *words.Catalogue) error {
	_, err := a.stdout.Write(of.Files[translation.English])
	return err
}

// languageOf gives the words in a language that comes with the program, by its tag, or
// of a file, and says which of these stay English.
func (a *app) languageOf(of *words.Catalogue, which string) (*words.Language, error) {
	if which == "" {
		which = translation.English
	}
	if slices.Contains(of.Tags(), which) {
		return of.Language(which), nil
	}
	text, err := os.ReadFile(which)
	if err != nil {
		return nil, workshop.BadInput(fmt.Errorf("can't read the words of a language: %w; %s come with the program", err, strings.Join(of.Tags(), ", ")))
	}
	l, err := of.Read(text)
	if err != nil {
		return nil, workshop.BadInput(fmt.Errorf("%s: %w", which, err))
	}
	if n := len(l.Missing); n > 0 {
		fmt.Fprintf(a.stderr, "%s: %d texts are left out and stay English: %s\n", which, n, strings.Join(l.Missing, ", "))
	}
	return l, nil
}

// unit is the unit of length of what is printed for people.
func (a *app) unit() form.Unit {
	tag := translation.English
	if a.language != nil {
		tag = a.language.Tag
	}
	return sheet.UnitOf(sheet.Words.Language(tag))
}
