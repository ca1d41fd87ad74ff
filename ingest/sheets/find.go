package sheets

import (
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
)

// A Source is a file to be read, and the sheet its name says it holds.
type Source struct {
	Path  string
	Sheet *Sheet // nil: to be seen from the content (a workbook, a name of its own)
}

// extensions that may hold sheets.
var extensions = map[string]bool{".csv": true, ".tsv": true, ".txt": true, ".xlsx": true, ".xlsm": true, ".parquet": true}

// Find lists the files to read. Of a folder it takes the files that are named
// like a sheet, and workbooks, and names the others in ignored; a file that is
// given itself is always taken. The order is the order given, files of a
// folder by name.
func Find(paths []string) (sources []Source, ignored []string, err error) {
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, nil, fmt.Errorf("can't find the sheets: %w", err)
		}
		if !info.IsDir() {
			s, _ := sheetOf(p)
			sources = append(sources, Source{p, s})
			continue
		}
		found, other, err := findIn(p)
		if err != nil {
			return nil, nil, err
		}
		sources, ignored = append(sources, found...), append(ignored, other...)
	}
	return sources, ignored, nil
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
		case ok || ext == ".xlsx" || ext == ".xlsm":
			sources = append(sources, Source{path, s})
		default:
			ignored = append(ignored, e.Name())
		}
	}
	return sources, ignored, nil
}

// exactly reads the sheet off a file name that is the sheet's and nothing else.
func exactly(path string) (*Sheet, bool) {
	ext := filepath.Ext(path)
	if !extensions[strings.ToLower(ext)] {
		return nil, false
	}
	return SheetNamed(strings.TrimSuffix(filepath.Base(path), ext))
}

// sheetOf reads the sheet off a file name: `orders.csv`, and where a shop keeps
// several, `orders-2026.csv`, `orders 2.csv`, `2026_orders.csv`.
func sheetOf(path string) (*Sheet, bool) {
	ext := filepath.Ext(path)
	if !extensions[strings.ToLower(ext)] {
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
