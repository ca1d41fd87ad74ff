package sheets

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
)

// A Source is a file to be read, and the sheet its name says it holds.
type Source struct {
	Path  string
	Label string // as it is shown to people: as many folders as tell it apart
	Sheet *Sheet // nil: to be seen from the content (a workbook, a name of its own)
	Given bool   // it was named itself, not found in a folder
}

// Kinds are the endings of files that may hold order sheets.
var Kinds = []string{".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".ods", ".parquet"}

// Find lists the files to read. Of a folder it takes the files that are named
// like a sheet, and workbooks, and names the others in ignored; a file that is
// given itself is always taken. With mapped, a folder's files are those that it
// answers true for, in folders inside it too, and the others are named. The
// order is the order given, files of a folder by name.
func Find(paths []string, mapped func(path string) bool) (sources []Source, ignored []string, err error) {
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, nil, fmt.Errorf("can't find the sheets: %w", err)
		}
		if !info.IsDir() {
			s, _ := sheetOf(p)
			sources = append(sources, Source{Path: p, Sheet: s, Given: true})
			continue
		}
		find := findIn
		if mapped != nil {
			find = func(dir string) ([]Source, []string, error) { return findMapped(dir, mapped) }
		}
		found, other, err := find(p)
		if err != nil {
			return nil, nil, err
		}
		sources, ignored = append(sources, found...), append(ignored, other...)
	}
	label(sources)
	return sources, ignored, nil
}

// label names each file by the shortest end of its path that is no other's.
func label(sources []Source) {
	for i := range sources {
		segments := strings.Split(filepath.ToSlash(filepath.Clean(sources[i].Path)), "/")
		for n := 1; n <= len(segments); n++ {
			end, alone := strings.Join(segments[len(segments)-n:], "/"), true
			for j := range sources {
				other := filepath.ToSlash(filepath.Clean(sources[j].Path))
				alone = alone && (i == j || other != end && !strings.HasSuffix(other, "/"+end))
			}
			if sources[i].Label = end; alone {
				break
			}
		}
	}
}

const (
	deepestFolder = 5
	mostFiles     = 10_000
)

func findMapped(dir string, mapped func(path string) bool) (sources []Source, ignored []string, err error) {
	n := 0
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		inside, _ := filepath.Rel(dir, path)
		switch hidden := strings.HasPrefix(d.Name(), ".") && inside != "."; {
		case err != nil:
			return err
		case d.IsDir() && (hidden || strings.Count(inside, string(filepath.Separator)) >= deepestFolder):
			return filepath.SkipDir
		case d.IsDir():
		case hidden || strings.HasPrefix(d.Name(), "~$"):
		case mapped(path):
			sources = append(sources, Source{Path: path})
		default:
			ignored = append(ignored, filepath.ToSlash(inside))
		}
		if n++; n > mostFiles {
			return fileError(dir, 0, "holds more than %d files; give the folder of the sheets", mostFiles)
		}
		return nil
	})
	return sources, ignored, err
}

func findIn(dir string) (sources []Source, ignored []string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("can't read the folder of sheets: %w", err)
	}
	sort.Slice(entries, func(i, j int) bool { return entries[i].Name() < entries[j].Name() })
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		ext := strings.ToLower(filepath.Ext(path))
		s, ok := exactly(path)
		if strings.HasPrefix(e.Name(), "~$") || strings.HasPrefix(e.Name(), ".") {
			ok, ext = false, "" // an editor's own file
		}
		info, statErr := os.Stat(path)
		switch {
		case statErr == nil && info.IsDir():
			ignored = append(ignored, e.Name())
		case ok || ext == ".xlsx" || ext == ".xlsm" || ext == ".ods":
			sources = append(sources, Source{Path: path, Sheet: s})
		default:
			ignored = append(ignored, e.Name())
		}
	}
	return sources, ignored, nil
}

// exactly reads the sheet off a file name that is the sheet's and nothing else.
func exactly(path string) (*Sheet, bool) {
	ext := filepath.Ext(path)
	if !slices.Contains(Kinds, strings.ToLower(ext)) {
		return nil, false
	}
	return SheetNamed(strings.TrimSuffix(filepath.Base(path), ext))
}

// sheetOf reads the sheet off a file name: `orders.csv`, and where a shop keeps
// several, `orders-2026.csv`, `orders 2.csv`, `2026_orders.csv`.
func sheetOf(path string) (*Sheet, bool) {
	ext := filepath.Ext(path)
	if !slices.Contains(Kinds, strings.ToLower(ext)) {
		return nil, false
	}
	base := Fold(strings.ReplaceAll(strings.TrimSuffix(filepath.Base(path), ext), ".", "_"))
	if s, ok := SheetNamed(base); ok {
		return s, true
	}
	first, _, _ := strings.Cut(base, "_")
	last := base[strings.LastIndexByte(base, '_')+1:]
	for _, word := range []string{first, last} {
		if s, ok := SheetNamed(word); ok {
			return s, true
		}
	}
	return nil, false
}

// Readable reports whether a file is of a kind that may hold sheets.
func Readable(path string) bool { return slices.Contains(Kinds, strings.ToLower(filepath.Ext(path))) }
