package translation

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
)

//go:embed german/*.txt
var files embed.FS

// English is the tag of the language that pages are made in.
const English = "en"

// Tags are the languages that come with the program, English first.
var Tags = []string{English, "de"}

// Of is a language that comes with the program, by its tag; nil for English. An unknown tag
// is an error that names those there are.
func Of(tag string) (*Language, error) {
	switch tag {
	case "", English:
		return nil, nil
	case "de":
		return german()
	}
	return nil, fmt.Errorf("there is no language %q; there are %s", tag, strings.Join(Tags, ", "))
}

// german is read once, by the first who asks.
var german = sync.OnceValues(func() (*Language, error) {
	texts, err := texts("german")
	if err != nil {
		return nil, err
	}
	return Parse("de", texts)
})

func texts(folder string) (map[string][]byte, error) {
	names, err := fs.Glob(files, folder+"/*.txt")
	if err != nil {
		return nil, err
	}
	slices.Sort(names)
	out := map[string][]byte{}
	for _, name := range names {
		if out[path.Base(name)], err = files.ReadFile(name); err != nil {
			return nil, err
		}
	}
	return out, nil
}
