package bookfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"lastroom/analysis/sumlines"
	"lastroom/ingest/durable"
)

// A Copy is something that was written elsewhere out of a book, and holds what
// the book holds of people: whoever forgets a person must look at it too.
type Copy struct {
	At   time.Time `json:"at"`
	What string    `json:"what"` // backup, export, rows kept out
	Path string    `json:"path"`
}

// NoteCopy adds to the list of copies. The same place is listed once. Damaged lines
// stay, so that they are told again.
func NoteCopy(f Files, what, path string, now time.Time) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	all, damaged, err := ReadCopies(f)
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(c Copy) bool { return c.Path == path })
	text := bytes.Join(damaged, nil)
	for _, c := range append(all, Copy{now.UTC().Truncate(time.Second), what, path}) {
		line, err := sumlines.Line(c)
		if err != nil {
			return err
		}
		text = append(text, line...)
	}
	return durable.Write(f.Copies(), 0o600, text)
}

// ReadCopies reads the list of copies, oldest first, and the lines of it that are
// damaged. Lines of an older program have no sum.
func ReadCopies(f Files) (all []Copy, damaged [][]byte, err error) {
	text, err := os.ReadFile(f.Copies())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil
	}
	for line := range bytes.Lines(text) {
		var c Copy
		value := line
		if line[0] != '{' {
			values, err := sumlines.Read(line)
			if err != nil || len(values) != 1 {
				damaged = append(damaged, line)
				continue
			}
			value = values[0]
		}
		if json.Unmarshal(value, &c) != nil || c.Path == "" {
			damaged = append(damaged, line)
			continue
		}
		all = append(all, c)
	}
	return all, damaged, err
}

// CopiesDamaged says that lines of the list of copies are damaged; "" for none.
func CopiesDamaged(f Files, damaged [][]byte) string {
	if len(damaged) == 0 {
		return ""
	}
	return fmt.Sprintf("%d lines of %s, the list of backups, exports and other copies written out of the book, are damaged: look for copies yourself when a person is forgotten, then remove the list", len(damaged), f.Copies())
}
