// Package ruling keeps the rules that a shop goes by: it reads their file, follows it
// while people change it, and changes it.
package ruling

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"lastroom/analysis/rules"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/notebooks/cache"
)

// Beside is where a shop keeps its own rules.
func Beside(book string) string {
	return filepath.Join(bookfile.FilesOf(book).Dir, "rules.yaml")
}

// Read reads a rules file; without one, the shop's own that stands beside the book,
// or else the one that comes with the program. It gives the text too.
func Read(book, file string) ([]rules.Rule, []byte, error) {
	own := file == ""
	if own {
		file = Beside(book)
	}
	text, err := os.ReadFile(file)
	if own && errors.Is(err, fs.ErrNotExist) {
		return rules.Default(), rules.DefaultYAML(), nil
	}
	if err != nil {
		return nil, nil, fmt.Errorf("can't read the rules: %w", err)
	}
	list, err := rules.Parse(text)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", file, err)
	}
	return list, text, nil
}

// Rules are the rules that are gone by, with a name for caches.
type Rules struct {
	List []rules.Rule
	Text string
	Key  string
}

// A File is the rules file of a book. It may be used by several goroutines.
type File struct {
	book, file string

	mu   sync.Mutex
	now  Rules
	seen fs.FileInfo
}

// Open reads the rules of a book, from a file of their own where one is given.
func Open(book, file string) (*File, error) {
	f := &File{book: book, file: file}
	return f, f.read()
}

// Given is the file that was given to Open; "": the book's.
func (f *File) Given() string { return f.file }

func (f *File) path() string {
	if f.file != "" {
		return f.file
	}
	return Beside(f.book)
}

func (f *File) read() error {
	seen, _ := os.Stat(f.path())
	list, text, err := Read(f.book, f.file)
	if err == nil {
		f.now, f.seen = Rules{list, string(text), cache.Key(string(text))}, seen
	}
	return err
}

// Now are the rules. A file that somebody changed is read again; while it can't be
// read those of before hold.
func (f *File) Now() Rules {
	f.mu.Lock()
	defer f.mu.Unlock()
	now, err := os.Stat(f.path())
	same := err != nil && f.seen == nil
	if err == nil && f.seen != nil {
		same = os.SameFile(now, f.seen) && now.ModTime().Equal(f.seen.ModTime())
	}
	if !same {
		_ = f.read()
	}
	return f.now
}

// Change writes the rules anew as change says, all or nothing: it is given the text
// that the file holds now, or that of the rules which come with the program.
func (f *File) Change(change func(text []byte) ([]byte, error)) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	_, text, err := Read(f.book, f.file)
	if err != nil {
		return err
	}
	after, err := change(text)
	if err != nil {
		return err
	}
	if _, err := rules.Parse(after); err != nil {
		return err
	}
	dir := filepath.Dir(f.path())
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return errors.Join(durable.Write(f.path(), 0o600, after), f.read())
}
