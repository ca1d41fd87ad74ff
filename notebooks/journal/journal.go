// Package journal keeps files beside the book to which lines are only ever added:
// each is on the disk before it counts, one that was cut short counts as not
// written, and a changed one is noticed.
package journal

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strings"
	"sync"

	"lastroom/analysis/sumlines"
)

// A Folder holds journals of one kind, each under a word that tells nothing of what
// is in it. It may be used by several goroutines.
type Folder struct {
	Root *os.Root
	Name string
	mu   sync.Mutex
}

// ErrNone is the error of a journal that is not there.
var ErrNone = errors.New("there is no such record (any more)")

const ending = ".lines"

var goodWord = regexp.MustCompile(`^[A-Z2-7]{20,40}$`)

func (f *Folder) path(word string) (string, error) {
	if !goodWord.MatchString(word) {
		return "", ErrNone
	}
	return f.Name + "/" + word + ending, nil
}

// Begin makes a journal with its first line, and gives its word.
func (f *Folder) Begin(first any) (word string, err error) {
	line, err := sumlines.Line(first)
	if err != nil {
		return "", err
	}
	word = rand.Text()
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.Root.MkdirAll(f.Name, 0o700); err != nil {
		return "", err
	}
	return word, Append(f.Root, f.Name+"/"+word+ending, os.O_CREATE|os.O_EXCL, line, nil)
}

// words are the journals there are, in no order that means anything.
func (f *Folder) words() (found []string, err error) {
	entries, err := fs.ReadDir(f.Root.FS(), f.Name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, e := range entries {
		if word, ok := strings.CutSuffix(e.Name(), ending); ok && goodWord.MatchString(word) {
			found = append(found, word)
		}
	}
	return found, err
}

// Read gives each line of a journal to take, in order.
func (f *Folder) Read(word string, take func(line []byte) error) error {
	path, err := f.path(word)
	if err != nil {
		return err
	}
	text, err := f.Root.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return ErrNone
	}
	if err != nil {
		return err
	}
	lines, err := sumlines.Read(text)
	for i, line := range lines {
		if err == nil {
			if bad := take(line); bad != nil {
				err = fmt.Errorf("line %d: %w", i+1, bad)
			}
		}
	}
	if err != nil {
		return fmt.Errorf("%s beside the book: %w; put the file of a backup in its place, or remove it", path, err)
	}
	return nil
}

// Lines is Read with each line as what it holds.
func Lines[T any](f *Folder, word string, take func(line T) error) error {
	return f.Read(word, func(text []byte) error {
		var line T
		if err := json.Unmarshal(text, &line); err != nil {
			return err
		}
		return take(line)
	})
}

// All finds what each journal of a folder tells; one taken away meanwhile is left out.
func All[T any](f *Folder, find func(word string) (T, error)) (out []T, err error) {
	words, err := f.words()
	if err != nil {
		return nil, err
	}
	for _, w := range words {
		one, err := find(w)
		if errors.Is(err, ErrNone) {
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}

// Add adds a line if check, which may read the journal, allows it; nothing else is
// added meanwhile by this program.
func (f *Folder) Add(word string, v any, check func() error) error {
	path, err := f.path(word)
	if err != nil {
		return err
	}
	line, err := sumlines.Line(v)
	if err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := check(); err != nil {
		return err
	}
	err = Append(f.Root, path, 0, line, nil)
	if errors.Is(err, fs.ErrNotExist) {
		return ErrNone
	}
	return err
}

// Remove takes a journal away.
func (f *Folder) Remove(word string) error {
	path, err := f.path(word)
	if err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	err = f.Root.Remove(path)
	if errors.Is(err, fs.ErrNotExist) {
		return ErrNone
	}
	return err
}
