package archive

import (
	"bytes"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"sync"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/whole"
	"lastroom/reports/page"
	"lastroom/reports/translation"
)

// A Store keeps runs in a folder, one folder a run:
//
//	run.json         the Record
//	page.html        the page, whole and offline
//	document.cbor    the same as a value, for the service; document.gob in older runs
//	notebook.md      the notebook as it was
//	notebook.ipynb   open notebook JSON
//	tables/NAME.csv  every table in full
//	sums.txt         the hashes of all these, and its own
type Store struct {
	Dir   string
	Clock notebooks.Clock
}

// ErrNoRun is the error of a run that is not in the store.
var ErrNoRun = errors.New("there is no such run")

// Save keeps a run. A run that was kept before with the same page is noted as
// repeated. Nothing takes the place of a run that did not fail: one that failed
// goes beside it, and so does one whose page came out otherwise (as from
// another build of the program).
func (s Store) Save(r *execution.Run, version, by string) (Record, error) {
	rec := record(r, version)
	rec.By, rec.Finished = by, s.Clock().UTC().Truncate(time.Second)
	if !notebooks.GoodName(rec.ID) {
		return rec, fmt.Errorf("a run can't be kept under the name %q; name the notebook in small letters, digits, _ and -", rec.ID)
	}
	texts, err := files(r, nil)
	if err != nil {
		return rec, err
	}
	if err := os.MkdirAll(s.Dir, 0o700); err != nil {
		return rec, err
	}
	root, err := os.OpenRoot(s.Dir)
	if err != nil {
		return rec, err
	}
	defer root.Close()
	if err := sweep(root, rec.Finished); err != nil {
		return rec, err
	}
	_, broken := verifyRun(root, s.Dir, rec.ID)
	if old, err := s.Record(rec.ID); err == nil && broken == nil { // one that is damaged is mended
		was, err := root.ReadFile(rec.ID + "/page.html")
		switch {
		case err == nil && bytes.Equal(was, texts["page.html"]):
			old.Repeated = append(old.Repeated, rec.Finished)
			return old, rewriteRecord(root, old)
		case rec.Failed() && !old.Failed():
			rec.ID += "-failed"
		case !old.Failed(): // another page from the same things: a decision may rest on the old one
			rec.ID += "-" + notebooks.Digest(texts["page.html"])[:6]
		}
	}
	return rec, keep(root, rec, texts)
}

// longestKeep is how long it may take to keep a run.
const longestKeep = time.Hour

// sweep removes what was left where the keeping of a run was cut short.
func sweep(root *os.Root, now time.Time) error {
	left, err := fs.Glob(root.FS(), "*.new")
	if err != nil {
		return err
	}
	inside, err := fs.Glob(root.FS(), "*/*.new")
	for _, name := range append(left, inside...) {
		if info, gone := root.Lstat(name); gone == nil && now.Sub(info.ModTime()) > longestKeep {
			err = errors.Join(err, root.RemoveAll(name))
		}
	}
	return err
}

// keep writes the folder of a run beside its place and renames it into it.
func keep(root *os.Root, rec Record, files map[string][]byte) error {
	tmp := rec.ID + ".new"
	if err := root.RemoveAll(tmp); err != nil {
		return err
	}
	if err := root.MkdirAll(tmp+"/tables", 0o700); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := root.WriteFile(tmp+"/"+name, files[name], 0o600); err != nil {
			return err
		}
	}
	text, err := recordText(rec)
	if err != nil {
		return err
	}
	sums := map[string]string{}
	for name, b := range files {
		sums[name] = notebooks.Digest(b)
	}
	if err := errors.Join(root.WriteFile(tmp+"/run.json", text, 0o600), writeSums(root, tmp, sums, text)); err != nil {
		return err
	}
	if err := root.RemoveAll(rec.ID); err != nil {
		return err
	}
	return root.Rename(tmp, rec.ID)
}

func recordText(rec Record) ([]byte, error) { return json.MarshalIndent(rec, "", " ") }

// rewriteRecord replaces the record of a run. Stopped at any moment, the list of
// hashes holds for the record that is there.
func rewriteRecord(root *os.Root, rec Record) error {
	was, err := readChecked(root, rec.ID, "run.json")
	if err != nil {
		return err
	}
	text, err := recordText(rec)
	if err != nil {
		return err
	}
	listed, err := readSums(root, rec.ID)
	if err != nil {
		return err
	}
	sums := map[string]string{}
	for name, of := range listed {
		if name != "run.json" {
			sums[name] = of[0]
		}
	}
	if listed != nil {
		if err := writeSums(root, rec.ID, sums, was, text); err != nil {
			return err
		}
	}
	if err := whole.Write(root, rec.ID+"/run.json", text); err != nil || listed == nil {
		return err
	}
	return writeSums(root, rec.ID, sums, text)
}

// files are the files of a run, run.json apart.
func files(r *execution.Run, l *translation.Language) (map[string][]byte, error) {
	write := map[string]func(io.Writer) error{
		"page.html":      func(w io.Writer) error { return l.HTML(w, r.Doc) },
		"notebook.ipynb": func(w io.Writer) error { return OpenJSON(w, r) },
		"document.cbor":  func(w io.Writer) error { return cache.Encode(w, r.Doc) },
	}
	for _, t := range r.Tables {
		write["tables/"+t.FileName()] = func(w io.Writer) error {
			table, err := t.Whole()
			if err != nil {
				return err
			}
			return page.CSV(w, &table)
		}
	}
	names := slices.Sorted(maps.Keys(write))
	texts, errs := make([]bytes.Buffer, len(names)), make([]error, len(names))
	stats.Parallel(0, len(names), func(i int) { errs[i] = write[names[i]](&texts[i]) })
	out := map[string][]byte{"notebook.md": r.Notebook.Source}
	for i, name := range names {
		out[name] = texts[i].Bytes()
	}
	return out, errors.Join(errs...)
}

// Record reads the record of a run. Its lists are shared: they are not to be
// changed.
func (s Store) Record(id string) (Record, error) {
	if !notebooks.GoodName(id) {
		return Record{}, ErrNoRun
	}
	path := filepath.Join(s.Dir, id, "run.json")
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Record{}, ErrNoRun
	}
	if err != nil {
		return Record{}, err
	}
	if got, ok := recordsRead.Load(path); ok && os.SameFile(info, got.(readRecord).info) && info.ModTime().Equal(got.(readRecord).info.ModTime()) {
		return got.(readRecord).Record, nil
	}
	b, err := s.File(id, "run.json")
	if err != nil {
		return Record{}, err
	}
	var rec Record
	if err := json.Unmarshal(b, &rec); err != nil {
		return Record{}, fmt.Errorf("the record of run %s is damaged: %w", id, err)
	}
	rec.Repeated = slices.Clip(rec.Repeated)
	recordsRead.Store(path, readRecord{rec, info})
	return rec, nil
}

// recordsRead keeps records by path: a list of runs reads only what is new.
var recordsRead sync.Map

type readRecord struct {
	Record
	info fs.FileInfo
}

// Document reads the document of a run.
func (s Store) Document(id string) (*page.Document, error) {
	b, err := s.File(id, "document.cbor")
	if errors.Is(err, ErrNoRun) {
		return s.olderDocument(id)
	}
	if err != nil {
		return nil, err
	}
	var d page.Document
	if err := cache.Decode(b, &d); err != nil {
		return nil, errOtherVersion(id)
	}
	for _, section := range d.Sections {
		cache.Blocks(section.Blocks)
	}
	return &d, nil
}

func errOtherVersion(id string) error {
	return fmt.Errorf("run %s was kept by another version of the program; run the notebook again", id)
}

// olderDocument reads a document as it was kept before CBOR.
func (s Store) olderDocument(id string) (*page.Document, error) {
	b, err := s.File(id, "document.gob")
	if err != nil {
		return nil, err
	}
	// What may stand behind an interface.
	for _, v := range []any{page.Prose{}, page.Markup{}, page.Finding{}, page.Table{}, page.Figure{}, page.Value{}, cohort.Day(0), cohort.Month(0), stats.Estimate{}} {
		gob.Register(v)
	}
	var d page.Document
	if err := gob.NewDecoder(bytes.NewReader(b)).Decode(&d); err != nil {
		return nil, errOtherVersion(id)
	}
	return &d, nil
}

// File reads a file of a run.
func (s Store) File(id, name string) ([]byte, error) {
	if !notebooks.GoodName(id) {
		return nil, ErrNoRun
	}
	root, err := os.OpenRoot(s.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoRun
	}
	if err != nil {
		return nil, err
	}
	defer root.Close()
	return readChecked(root, id, name)
}

// List are the records of all runs, the newest first. A folder that can't be
// read is left out.
func (s Store) List() ([]Record, error) {
	entries, err := os.ReadDir(s.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []Record
	for _, e := range entries {
		if rec, err := s.Record(e.Name()); err == nil {
			all = append(all, rec)
		}
	}
	sort.Slice(all, func(i, j int) bool {
		a, b := all[i], all[j]
		if !a.Finished.Equal(b.Finished) {
			return a.Finished.After(b.Finished)
		}
		return a.ID < b.ID
	})
	return all, nil
}

// WriteDir writes the files of a run into a folder of the caller's choice, as
// a Store would, with its page in a language; nil: English.
func WriteDir(dir string, r *execution.Run, l *translation.Language) ([]string, error) {
	texts, err := files(r, l)
	if err != nil {
		return nil, err
	}
	delete(texts, "document.cbor")
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	if err := root.MkdirAll("tables", 0o777); err != nil {
		return nil, err
	}
	names := slices.Sorted(maps.Keys(texts))
	for _, name := range names {
		if err := root.WriteFile(name, texts[name], 0o666); err != nil {
			return nil, err
		}
	}
	return names, nil
}
