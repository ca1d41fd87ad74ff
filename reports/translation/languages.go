package translation

import (
	"cmp"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"sync"
)

//go:embed english german
var files embed.FS

// English is the tag of the language that pages are made in.
const English = "en"

// A Tongue is a language that comes with the program.
type Tongue struct {
	Tag    string
	Name   string // in the language itself
	folder string // of its words
	read   func() (*Language, error)
}

// Tongues are all of them, English first. This is the one list: flags, the buttons on
// pages, letters and what a browser asks for go by it.
var Tongues = []Tongue{
	{English, "English", "english", func() (*Language, error) { return nil, nil }},
	{"de", "Deutsch", "german", fromFolder("de", "german")},
}

// Keyed are the words of one printed matter that a shop may replace by its own, in the
// languages that have them, by tag: a file of texts by key, named after the matter, beside
// the sentences.
func Keyed(matter string) map[string][]byte {
	out := map[string][]byte{}
	for _, t := range Tongues {
		if text, err := files.ReadFile(path.Join(t.folder, matter+".yaml")); err == nil {
			out[t.Tag] = text
		}
	}
	return out
}

// Tags are the tags of all of them.
func Tags() (tags []string) {
	for _, t := range Tongues {
		tags = append(tags, t.Tag)
	}
	return tags
}

// Of is a language that comes with the program, by its tag; nil for English, or where no tag
// is given. An unknown tag is an error that names those there are.
func Of(tag string) (*Language, error) {
	for _, t := range Tongues {
		if t.Tag == cmp.Or(tag, English) {
			return t.read()
		}
	}
	return nil, fmt.Errorf("there is no language %q; there are %s", tag, strings.Join(Tags(), ", "))
}

// fromFolder reads a catalogue once, for the first who asks.
func fromFolder(tag, folder string) func() (*Language, error) {
	return sync.OnceValues(func() (*Language, error) {
		texts, err := texts(folder)
		if err != nil {
			return nil, err
		}
		return parse(tag, texts)
	})
}

func texts(folder string) (map[string][]byte, error) {
	names, err := fs.Glob(files, folder+"/*.txt")
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}
	for _, name := range names {
		if out[path.Base(name)], err = files.ReadFile(name); err != nil {
			return nil, err
		}
	}
	return out, nil
}
