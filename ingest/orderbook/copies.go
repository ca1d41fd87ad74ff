package orderbook

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"lastroom/ingest/durable"
)

// A Copy is something that was written elsewhere out of a book, and holds what
// the book holds of people: whoever forgets a person must look at it too.
type Copy struct {
	At   time.Time `json:"at"`
	What string    `json:"what"` // backup, export, rows kept out
	Path string    `json:"path"`
}

// NoteCopy adds to the list of copies. The same place is listed once.
func NoteCopy(f Files, what, path string, now time.Time) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	all, err := ReadCopies(f)
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(c Copy) bool { return c.Path == path })
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	for _, c := range append(all, Copy{now.UTC().Truncate(time.Second), what, path}) {
		if err := enc.Encode(c); err != nil {
			return err
		}
	}
	return durable.Replace(f.Copies(), filepath.Dir(f.Copies()), func(w *os.File) error {
		_, err := w.Write(b.Bytes())
		return err
	})
}

// ReadCopies reads the list of copies, oldest first. A line that can't be read
// is passed over: the list is a help, not a record.
func ReadCopies(f Files) (all []Copy, err error) {
	text, err := os.ReadFile(f.Copies())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
		var c Copy
		if json.Unmarshal(lines.Bytes(), &c) == nil && c.Path != "" {
			all = append(all, c)
		}
	}
	return all, err
}
