package notebooks

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"lastroom/notebooks/whole"
	"os"
	"regexp"
	"sort"
	"strings"
	"sync"
)

//go:embed *.md
var shipped embed.FS

// notation is the help on how notebooks are written; it is no notebook.
const notation = "NOTATION"

// Notation is the help on how notebooks are written, as CommonMark.
func Notation() []byte {
	b, _ := shipped.ReadFile(notation + ".md") // embedded
	return b
}

// A Library is the shipped notebooks and those of the shop in its folder.
type Library struct {
	Dir string
}

// ErrNoNotebook is the error of a notebook that is not there.
var ErrNoNotebook = errors.New("there is no such notebook")

// An Entry is a notebook in a Library.
type Entry struct {
	Name, Title, For string
	Shipped          bool
	Err              error // of a notebook that can't be read
}

// Written is the text of a notebook. Version names exactly this text.
type Written struct {
	Source  []byte
	Shipped bool
	Version string
}

func versionOf(src []byte) string { return Digest(src)[:16] }

// goodName is the shape of the name of a notebook or a run; it keeps names inside
// their folder.
var goodName = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]{0,100}$`)

// GoodName reports whether a notebook or a run may be called so.
func GoodName(name string) bool { return goodName.MatchString(name) }

// Read gives the text of a notebook; a shipped one goes before a shop's.
func (l Library) Read(name string) (Written, error) {
	if !GoodName(name) {
		return Written{}, ErrNoNotebook
	}
	if b, err := shipped.ReadFile(name + ".md"); err == nil {
		return Written{b, true, versionOf(b)}, nil
	}
	root, err := os.OpenRoot(l.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return Written{}, ErrNoNotebook
	}
	if err != nil {
		return Written{}, err
	}
	defer root.Close()
	b, err := root.ReadFile(name + ".md")
	if errors.Is(err, fs.ErrNotExist) {
		return Written{}, ErrNoNotebook
	}
	return Written{b, false, versionOf(b)}, err
}

// List are all notebooks, the shipped ones first, each by name.
func (l Library) List(cat Catalogue) ([]Entry, error) {
	var names []string
	files, err := fs.Glob(shipped, "*.md")
	if err != nil {
		return nil, err
	}
	own, err := os.ReadDir(l.Dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, f := range own {
		files = append(files, f.Name())
	}
	seen := map[string]bool{notation: true}
	for _, f := range files {
		name, ok := strings.CutSuffix(f, ".md")
		if ok && !seen[name] && GoodName(name) {
			seen[name] = true
			names = append(names, name)
		}
	}
	var all []Entry
	for _, name := range names {
		t, err := l.Read(name)
		if err != nil {
			all = append(all, Entry{Name: name, Title: name, Err: err})
			continue
		}
		n, err := Parse(name, t.Source, cat)
		if err != nil {
			all = append(all, Entry{name, name, "", t.Shipped, err})
			continue
		}
		all = append(all, Entry{name, n.Heading(), n.For, t.Shipped, nil})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].Shipped && !all[j].Shipped })
	return all, nil
}

// A Conflict is the error of a save that started from a text which is no
// longer the one kept. Both are kept: the new one under the name Kept.
type Conflict struct {
	Name, Kept string
	Theirs     Written
}

func (c *Conflict) Error() string {
	return fmt.Sprintf("%q was changed by somebody else meanwhile; your text is kept as %q", c.Name, c.Kept)
}

// saving lets one save at a time check and write.
var saving sync.Mutex

// Save keeps the text of a shop's notebook. from is the Version the change
// started from, "" for a notebook that is new. The text need not parse.
func (l Library) Save(name string, src []byte, from string) (Written, error) {
	if !GoodName(name) {
		return Written{}, fmt.Errorf("%q is no name for a notebook; use small letters, digits, - and _", name)
	}
	if len(src) > MaxSource {
		return Written{}, fmt.Errorf("a notebook has at most %d bytes", MaxSource)
	}
	if _, err := shipped.ReadFile(name + ".md"); err == nil {
		return Written{}, fmt.Errorf("%q comes with the program and is not changed; save it under another name", name)
	}
	saving.Lock()
	defer saving.Unlock()
	if err := os.MkdirAll(l.Dir, 0o700); err != nil {
		return Written{}, err
	}
	root, err := os.OpenRoot(l.Dir)
	if err != nil {
		return Written{}, err
	}
	defer root.Close()
	mine := Written{src, false, versionOf(src)}
	theirs, err := l.Read(name)
	if err != nil && !errors.Is(err, ErrNoNotebook) {
		return Written{}, err
	}
	if theirs.Version != from && theirs.Version != mine.Version {
		kept := strings.TrimRight(name[:min(len(name), 80)], "-_") + "-" + mine.Version[:8]
		if err := whole.Write(root, kept+".md", src); err != nil {
			return Written{}, err
		}
		return theirs, &Conflict{name, kept, theirs}
	}
	return mine, whole.Write(root, name+".md", src)
}
