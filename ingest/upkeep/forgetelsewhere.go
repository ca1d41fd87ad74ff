package upkeep

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
	"lastroom/ingest/engine"
	"lastroom/ingest/seals"
)

// fromFolders removes what the program itself wrote beside the book and that
// names the person: runs. Uploads that wait go whole, since a workbook can't be
// looked through for a text; their owner has the files. What people wrote, as
// notebooks, decisions and layouts, is looked through and named.
func (g *Forgotten) fromFolders(w *bookfile.Writer, ids personIDs) error {
	f := w.Files
	if err := os.RemoveAll(filepath.Join(f.Dir, "incoming")); err != nil {
		return err
	}
	runs, err := removeRuns(w, ids)
	if err != nil {
		return err
	}
	g.Runs = len(runs)
	return filepath.WalkDir(f.Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		switch {
		case d.IsDir():
			if path == f.Sheets() || path == f.Runs() || path == f.Work() || path == f.Cache() || path == f.Keyed() || path == f.Learners() || path == f.Sessions() {
				return fs.SkipDir
			}
			return nil
		case path == f.Snapshot() || d.Name() == seals.Name || path == f.Forgetting() || path == f.Copies() || path == f.Ledger() || path == f.Lock() || !d.Type().IsRegular():
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		var named, maybe, rest []string
		for i, line := range bytes.Split(text, []byte("\n")) {
			switch found, sure := ids.inLine(line); {
			case sure:
				named = append(named, fmt.Sprint(i+1))
			case found:
				maybe = append(maybe, fmt.Sprint(i+1))
			}
			if filepath.Base(path) != "audit.jsonl" && slices.ContainsFunc(runs, func(run string) bool { return hasWord(line, []byte(run)) }) {
				rest = append(rest, fmt.Sprint(i+1))
			}
		}
		if len(named) > 0 {
			g.Left = append(g.Left, fmt.Sprintf("%s names the person (%s); it is your own writing: change it", path, lineList(named)))
		}
		if len(maybe) > 0 {
			g.Left = append(g.Left, fmt.Sprintf("%s may name the person (%s): a number of theirs is too short to tell from others; look, and change it", path, lineList(maybe)))
		}
		if len(rest) > 0 {
			g.Left = append(g.Left, fmt.Sprintf("%s rests on a run that named the person and was removed (%s): run its notebook again", path, lineList(rest)))
		}
		return nil
	})
}

func lineList(lines []string) string {
	const most = 10
	if len(lines) > most {
		return "lines " + strings.Join(lines[:most], ", ") + fmt.Sprintf(" and %d more", len(lines)-most)
	}
	if len(lines) == 1 {
		return "line " + lines[0]
	}
	return "lines " + strings.Join(lines, ", ")
}

// removeRuns removes the runs in which one of the ids stands, and gives their names.
// Each goes whole, by way of the folder that every writer empties: what is left of half a
// run may not name the person any more.
func removeRuns(w *bookfile.Writer, ids personIDs) (gone []string, err error) {
	dir := w.Files.Runs()
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		path, aside := filepath.Join(dir, e.Name()), filepath.Join(w.Files.Work(), e.Name())
		named, err := mentions(path, ids)
		if err != nil {
			return gone, err
		}
		if !named {
			continue
		}
		if err := errors.Join(os.Rename(path, aside), durable.SyncFolder(dir)); err != nil {
			return gone, err
		}
		w.Step("run put aside")
		if err := os.RemoveAll(aside); err != nil {
			return gone, err
		}
		gone = append(gone, e.Name())
	}
	return gone, nil
}

// lookAtCopies names the copies that were written elsewhere and still hold the
// person.
func (g *Forgotten) lookAtCopies(ctx context.Context, f bookfile.Files, ids personIDs) error {
	copies, damaged, err := bookfile.ReadCopies(f)
	if err != nil {
		return err
	}
	if words := bookfile.CopiesDamaged(f, damaged); words != "" {
		g.Left = append(g.Left, words)
	}
	for _, c := range copies {
		if _, err := os.Stat(c.Path); errors.Is(err, fs.ErrNotExist) {
			continue // moved or removed: the words of the report speak of those
		}
		named, err := mentions(c.Path, ids)
		if err == nil && !named {
			named, err = parquetNames(ctx, c.Path, ids)
		}
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			g.Left = append(g.Left, fmt.Sprintf("the %s %s can't be looked at (%s); remove it", c.What, c.Path, engine.FirstLine(err)))
		case named:
			g.Left = append(g.Left, fmt.Sprintf("the %s %s of %s still holds the person; remove it", c.What, c.Path, c.At.Format("2006-01-02")))
		}
	}
	return nil
}

// parquetNames reports whether a table of a backup or an export has a row of
// the person.
func parquetNames(ctx context.Context, dir string, ids personIDs) (named bool, err error) {
	var files []string
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".parquet") && !d.IsDir() {
			files = append(files, path)
		}
		return err
	})
	if err != nil || len(files) == 0 {
		return false, err
	}
	db, err := engine.Open(ctx, "", false)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return false, err
	}
	defer conn.Close()
	for _, path := range files {
		if named, err = parquetHas(ctx, conn, path, ids); named || err != nil {
			return named, err
		}
	}
	return false, nil
}

func parquetHas(ctx context.Context, conn *sql.Conn, path string, ids personIDs) (bool, error) {
	from := " FROM read_parquet(" + engine.Quote(path) + ")"
	columns, err := engine.Columns(ctx, conn, "SELECT *"+from+" LIMIT 0")
	if err != nil {
		return false, err
	}
	var is []string
	for _, c := range columns {
		for id := range ids[c] {
			is = append(is, engine.QuoteName(c)+"::VARCHAR = "+engine.Quote(id))
		}
	}
	if len(is) == 0 {
		return false, nil
	}
	slices.Sort(is)
	n, err := engine.Number(ctx, conn, "SELECT count(*)"+from+" WHERE "+strings.Join(is, " OR "))
	return n > 0, err
}

// mentions reports whether a file, or any file of a folder, has one of the ids.
func mentions(path string, ids personIDs) (found bool, err error) {
	err = filepath.WalkDir(path, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if ids.inFile(path, text) {
			found = true
			return fs.SkipAll
		}
		return nil
	})
	return found, err
}

// hasCounted reports whether an id stands in text as CBOR (RFC 8949, section 3.1)
// or gob write it: behind its length.
func hasCounted(text []byte, id string) bool {
	n := len(id)
	for _, head := range [][]byte{{byte(n)}, {byte(0x60 + n)}, {0x78, byte(n)}} {
		if n < 256 && bytes.Contains(text, append(head, id...)) {
			return true
		}
	}
	return false
}

// hasWord reports whether word stands in text with no letter or digit beside it.
func hasWord(text, word []byte) bool {
	for at := 0; ; {
		i := bytes.Index(text[at:], word)
		if i < 0 {
			return false
		}
		start, end := at+i, at+i+len(word)
		if (start == 0 || !wordByte(text[start-1])) && (end == len(text) || !wordByte(text[end])) {
			return true
		}
		at = start + 1
	}
}

func wordByte(b byte) bool {
	return b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= 0x80
}
