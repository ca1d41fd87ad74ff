package uploads

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"lastroom/analysis/sketch"
	"lastroom/notebooks/whole"
)

// folder holds all uploads. It is in no backup; forgetting a person clears it.
const folder = "incoming"

// Limits of an upload over all times that something was added to it.
const (
	MostFiles = 32
	mostBytes = 256 << 20
	// idle is how long an upload waits for its person.
	idle = 24 * time.Hour
	// longestLoad is how long tidy sheets may be at work. Their folder goes after the
	// load; one that is older was left by a service that was killed.
	longestLoad = time.Hour
)

// ErrNone is the error of an upload that is not there (any more).
var ErrNone = errors.New("these spreadsheets are not here any more: they were loaded, thrown away, or waited for a day; choose them again")

// A Refused is the error of a file that is not taken.
type Refused struct{ Words string }

func (r *Refused) Error() string { return r.Words }

func refuse(format string, args ...any) error { return &Refused{fmt.Sprintf(format, args...)} }

// A Store keeps uploads in a folder of the root.
type Store struct {
	Root *os.Root
	Now  func() time.Time
}

// An Upload is some spreadsheets that wait.
type Upload struct {
	ID      string         `json:"-"`
	Layout  string         `json:"layout,omitempty"` // name of the kept layout they are read by; "" for none
	Answers sketch.Answers `json:"answers,omitempty"`
	Mapping string         `json:"mapping,omitempty"` // as it was tried last, and is loaded
	Mended  bool           `json:"mended,omitempty"`  // by the lists, though a kept layout was named
	Batches int            `json:"batches"`           // how many times files came
	Left    []string       `json:"left,omitempty"`    // files of other kinds, not taken
}

func dirOf(id string) string { return folder + "/" + id }

// Dir is the folder of the upload's files, within the root.
func (u *Upload) Dir() string { return dirOf(u.ID) + "/files" }

// Begin makes an empty upload. Those that nobody came back to go.
func (s Store) Begin() (*Upload, error) {
	if err := s.Sweep(); err != nil {
		return nil, err
	}
	u := &Upload{ID: rand.Text(), Answers: sketch.Answers{}}
	if err := s.Root.MkdirAll(u.Dir(), 0o700); err != nil {
		return nil, err
	}
	return u, s.Save(u)
}

var goodID = regexp.MustCompile(`^[A-Z2-7]{20,40}$`)

// Find finds an upload.
func (s Store) Find(id string) (*Upload, error) {
	if !goodID.MatchString(id) {
		return nil, ErrNone
	}
	text, err := s.Root.ReadFile(dirOf(id) + "/upload.json")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNone
	}
	if err != nil {
		return nil, err
	}
	u := &Upload{ID: id}
	if err := json.Unmarshal(text, u); err != nil {
		return nil, ErrNone
	}
	if u.Answers == nil {
		u.Answers = sketch.Answers{}
	}
	return u, nil
}

// Save notes what was chosen.
func (s Store) Save(u *Upload) error {
	text, err := json.Marshal(u)
	if err != nil {
		return err
	}
	return whole.Write(s.Root, dirOf(u.ID)+"/upload.json", text)
}

// Remove takes an upload away.
func (s Store) Remove(u *Upload) error { return s.Root.RemoveAll(dirOf(u.ID)) }

// Sweep takes away what waited for too long.
func (s Store) Sweep() error {
	entries, err := fs.ReadDir(s.Root.FS(), folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	for _, e := range entries {
		id := e.Name()
		at := dirOf(id)
		if info, err := s.Root.Stat(at + "/upload.json"); err == nil && s.Now().Sub(info.ModTime()) < idle {
			continue
		}
		if info, err := s.Root.Stat(at); err == nil && s.Now().Sub(info.ModTime()) < longestLoad {
			continue // an upload that just comes in, or a load of tidy sheets at work
		}
		err = errors.Join(err, s.Root.RemoveAll(at))
	}
	return err
}

// kinds are the files that are taken; old workbooks too, since the reader says
// what to do about them.
var kinds = []string{".csv", ".tsv", ".tab", ".txt", ".xlsx", ".xlsm", ".ods", ".xls", ".xlsb", ".parquet"}

// Kinds is the list for a file field of a page.
func Kinds() string { return strings.Join(kinds, ",") }

// Batch begins a further batch of files: those of one batch lie in a folder of
// their own, so that a second file of the same name is no other's end, and comes
// after it.
func (u *Upload) Batch() { u.Batches++ }

// Add takes a file, under the sender's name for it. A name that comes with
// folders keeps them, as they may be all that tells two files apart. A file of
// another kind is left, and named in Left.
func (s Store) Add(u *Upload, name string, from io.Reader) error {
	parts := strings.FieldsFunc(name, func(r rune) bool { return r == '/' || r == '\\' })
	if len(parts) == 0 {
		return refuse("A file has no name.")
	}
	for _, p := range parts {
		if !filepath.IsLocal(p) || strings.ContainsFunc(p, func(r rune) bool { return r < ' ' || strings.ContainsRune(`:*?"<>|`, r) }) || len(p) > 120 {
			return refuse("A file has a name that can't be taken; give it a short name of letters and figures.")
		}
	}
	base := parts[len(parts)-1]
	if strings.HasPrefix(base, ".") || strings.HasPrefix(base, "~$") || !slices.Contains(kinds, strings.ToLower(path.Ext(base))) {
		u.Left = append(u.Left, base)
		return nil
	}
	n, size, err := s.held(u)
	if err != nil {
		return err
	}
	if n >= MostFiles {
		return refuse("At most %d spreadsheets are taken at once.", MostFiles)
	}
	dir := path.Join(u.Dir(), fmt.Sprint(u.Batches), path.Join(parts[max(0, len(parts)-3):len(parts)-1]...))
	if err := s.Root.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	f, err := s.Root.OpenFile(dir+"/"+base, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return refuse("Two of the files are called %s. Choose the folder that holds both of their folders, or send one now and add the other on the page that follows.", base)
	}
	if err != nil {
		return err
	}
	got, err := io.Copy(f, io.LimitReader(from, mostBytes-size+1))
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if size+got > mostBytes {
		return refuse("That is more than the %d MiB that one upload may hold. Load the rest with lastroom load.", mostBytes>>20)
	}
	return nil
}

// Undo takes the files of the last batch away, which did not come whole.
func (s Store) Undo(u *Upload) error {
	dir := path.Join(u.Dir(), fmt.Sprint(u.Batches))
	u.Batches--
	return s.Root.RemoveAll(dir)
}

// held counts the files of an upload and their bytes.
func (s Store) held(u *Upload) (n int, size int64, err error) {
	err = fs.WalkDir(s.Root.FS(), u.Dir(), func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			n, size = n+1, size+info.Size()
		}
		return err
	})
	return n, size, err
}

// Files are the names of an upload's files.
func (s Store) Files(u *Upload) (names []string, err error) {
	err = fs.WalkDir(s.Root.FS(), u.Dir(), func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, path.Base(p))
		}
		return err
	})
	return names, err
}
