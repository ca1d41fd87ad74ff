package uploads

import (
	"encoding/json"
	"errors"
	"io/fs"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lastroom/analysis/sketch"
	"lastroom/notebooks/whole"
)

// layouts is the folder of kept layouts beside the book; backups hold it, and
// forgetting a person looks through it.
const layouts = "layouts"

// A Layout is how spreadsheets of one make are read.
type Layout struct {
	Name    string
	Kept    time.Time
	Mapping string         // a mapping file, as lastroom load --map takes
	Answers sketch.Answers // what it was made of; nil where that is not known
}

// ErrNoLayout is the error of a layout that is not kept.
var ErrNoLayout = errors.New("there is no such layout")

// GoodName reports whether a layout may be called so: letters, figures, blanks
// and - _ ( ) inside.
func GoodName(name string) bool {
	if name == "" || utf8.RuneCountInString(name) > 60 || strings.TrimSpace(name) != name {
		return false
	}
	first, _ := utf8.DecodeRuneInString(name)
	return (unicode.IsLetter(first) || unicode.IsDigit(first)) && !strings.ContainsFunc(name, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune(" -_()", r)
	})
}

// Layouts lists the kept layouts by name, without what is in them.
func (s Store) Layouts() (out []Layout, err error) {
	entries, err := fs.ReadDir(s.Root.FS(), layouts)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, e := range entries {
		name, ok := strings.CutSuffix(e.Name(), ".yaml")
		if info, err := e.Info(); ok && err == nil && GoodName(name) {
			out = append(out, Layout{Name: name, Kept: info.ModTime()})
		}
	}
	return out, err
}

// Layout reads a kept layout.
func (s Store) Layout(name string) (Layout, error) {
	if !GoodName(name) {
		return Layout{}, ErrNoLayout
	}
	text, err := s.Root.ReadFile(layouts + "/" + name + ".yaml")
	if errors.Is(err, fs.ErrNotExist) {
		return Layout{}, ErrNoLayout
	}
	if err != nil {
		return Layout{}, err
	}
	l := Layout{Name: name, Mapping: string(text)}
	chosen, err := s.Root.ReadFile(layouts + "/" + name + ".chosen.json")
	if errors.Is(err, fs.ErrNotExist) { // a mapping that somebody put there
		return l, nil
	}
	if err == nil {
		err = json.Unmarshal(chosen, &l.Answers)
	}
	return l, err
}

// Keep keeps a layout, in the place of an older one of its name.
func (s Store) Keep(l Layout) error {
	if !GoodName(l.Name) {
		return refuse("%q is no name for a layout; use letters, figures and blanks.", l.Name)
	}
	chosen, err := json.MarshalIndent(l.Answers, "", " ")
	if err != nil {
		return err
	}
	if err := s.Root.MkdirAll(layouts, 0o700); err != nil {
		return err
	}
	if err := whole.Write(s.Root, layouts+"/"+l.Name+".chosen.json", append(chosen, '\n')); err != nil {
		return err
	}
	return whole.Write(s.Root, layouts+"/"+l.Name+".yaml", []byte(l.Mapping)) // last: it is what makes a layout
}

// Drop takes a kept layout away. What was loaded by it stays.
func (s Store) Drop(name string) error {
	if _, err := s.Layout(name); err != nil {
		return err
	}
	err := s.Root.Remove(layouts + "/" + name + ".yaml")
	if gone := s.Root.Remove(layouts + "/" + name + ".chosen.json"); !errors.Is(gone, fs.ErrNotExist) {
		err = errors.Join(err, gone)
	}
	return err
}
