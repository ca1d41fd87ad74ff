// Package seals tells whether what people wrote beside a book (rules, notebooks,
// layouts), and the lists that only grow, are still as they were.
//
//  1. Each publication of a book, and each backup, notes the hash and the time of
//     every such file ([Write]).
//  2. [Verify] compares. A file with another content and the same time was changed by
//     no program: its disk is to blame. One with another time was edited: people may
//     do so, and it is said, not blamed. Of a file that only grows, what was there
//     before has to be there still.
//
// What the program alone writes holds its hashes itself and is left out.
package seals

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lastroom/analysis/sumlines"
	"lastroom/ingest/durable"
)

// Name is the file of seals in the folder beside a book.
const Name = "seals.lines"

// A seal is what a file was.
type seal struct {
	Path   string    `json:"path"` // within the folder, with /
	Size   int64     `json:"size"`
	Time   time.Time `json:"time"`
	SHA256 string    `json:"sha256"`
}

// grows reports whether a file is only ever added to.
func grows(path string) bool { return strings.HasSuffix(path, ".jsonl") }

// Write seals the files of the folder dir but those in skip, names within it. A file
// that is damaged keeps its seal, so that its damage goes on being told.
func Write(dir string, skip []string) error {
	was, err := read(dir)
	if err != nil {
		return nil // Verify tells; the next one is written when somebody has removed it
	}
	files, err := list(dir, skip)
	if err != nil {
		return err
	}
	var text []byte
	for _, path := range files {
		now, err := sealOf(dir, path, -1)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(was, func(s seal) bool { return s.Path == path }); i >= 0 {
			if wrong, _ := compare(dir, was[i]); wrong != "" {
				now = was[i]
			}
		}
		line, err := sumlines.Line(now)
		if err != nil {
			return err
		}
		text = append(text, line...)
	}
	if len(text) == 0 {
		return durable.Remove(filepath.Join(dir, Name))
	}
	return durable.Write(filepath.Join(dir, Name), 0o600, text)
}

// Verify says which files of the folder were damaged, and which were changed, since
// they were sealed.
func Verify(dir string) (damaged, changed []string, err error) {
	all, err := read(dir)
	var bad *sumlines.Damaged
	if errors.As(err, &bad) {
		return []string{fmt.Sprintf("%s, by which changes of files beside the book are noticed, is damaged (%v); remove it, the next load or backup writes it anew", filepath.Join(dir, Name), err)}, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	for _, s := range all {
		wrong, edited := compare(dir, s)
		if wrong != "" {
			damaged = append(damaged, wrong)
		}
		if edited != "" {
			changed = append(changed, edited)
		}
	}
	return damaged, changed, nil
}

// compare holds a file to its seal.
func compare(dir string, was seal) (damaged, changed string) {
	at := filepath.Join(dir, filepath.FromSlash(was.Path))
	upTo := int64(-1)
	if grows(was.Path) {
		upTo = was.Size
	}
	now, err := sealOf(dir, was.Path, upTo)
	since := was.Time.UTC().Format("2006-01-02 15:04")
	const advice = "put the file of a backup in its place; if you changed it yourself, save it once more"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", fmt.Sprintf("%s is gone; it was there, last written %s UTC", at, since)
	case err != nil:
		return fmt.Sprintf("%s can't be read: %v", at, err), ""
	case now.SHA256 == was.SHA256 && now.Size >= was.Size:
		return "", ""
	case grows(was.Path):
		return fmt.Sprintf("%s is damaged, or was edited: what stood in it at %s UTC, its first %d bytes, is another text now; lines are only ever added to it: put the file of a backup in its place, with the lines that came since; if it was you, as after a person was forgotten, remove %s", at, since, was.Size, Name), ""
	case now.Time.Equal(was.Time):
		return fmt.Sprintf("%s is damaged: its text is not what was saved at %s UTC, though nobody saved it since; %s", at, since, advice), ""
	}
	return "", fmt.Sprintf("%s was changed at %s UTC, after the last load or backup", at, now.Time.UTC().Format("2006-01-02 15:04"))
}

// sealOf seals a file, or its first bytes where upTo is not negative. Of a file that
// grows, a last line that was cut short is not sealed: the next one takes its place.
func sealOf(dir, path string, upTo int64) (seal, error) {
	f, err := os.Open(filepath.Join(dir, filepath.FromSlash(path)))
	if err != nil {
		return seal{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return seal{}, err
	}
	s := seal{Path: path, Size: info.Size(), Time: info.ModTime().UTC()}
	if upTo < 0 && grows(path) {
		text := make([]byte, s.Size)
		if _, err := f.ReadAt(text, 0); err != nil && !errors.Is(err, io.EOF) {
			return seal{}, err
		}
		s.Size = int64(bytes.LastIndexByte(text, '\n') + 1)
	}
	if upTo < 0 {
		upTo = s.Size // not what is added meanwhile
	}
	sum := sha256.New()
	_, err = io.CopyN(sum, f, upTo)
	if errors.Is(err, io.EOF) { // it is shorter now: another text
		err = nil
	}
	s.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return s, err
}

// list are the files of the folder, but those in skip, by name.
func list(dir string, skip []string) (files []string, err error) {
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // gone meanwhile
		}
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		switch rel = filepath.ToSlash(rel); {
		case slices.Contains(skip, rel) || rel == Name:
			if d.IsDir() {
				return fs.SkipDir
			}
		case d.Type().IsRegular() && !strings.HasSuffix(rel, ".new"):
			files = append(files, rel)
		}
		return nil
	})
	return files, err
}

// read reads the seals; none where nothing was sealed yet.
func read(dir string) (all []seal, err error) {
	text, err := os.ReadFile(filepath.Join(dir, Name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	lines, err := sumlines.Read(text)
	if err == nil && len(text) > 0 && text[len(text)-1] != '\n' {
		err = &sumlines.Damaged{Line: len(lines) + 1}
	}
	if err != nil {
		return nil, err
	}
	for i, line := range lines {
		var s seal
		if err := json.Unmarshal(line, &s); err != nil || !filepath.IsLocal(filepath.FromSlash(s.Path)) {
			return nil, &sumlines.Damaged{Line: i + 1}
		}
		all = append(all, s)
	}
	return all, nil
}
