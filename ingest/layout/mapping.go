package layout

import (
	"path/filepath"
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
	"lastroom/ingest/yaml"
)

// A Mapping says how a shop's own tables are laid out. See the package's doc
// for its file.
type Mapping struct {
	SHA256 string
	Text   []byte // of the file
	Tables []*table
}

// A table describes tables of one layout: in several files, or several tabs of
// a workbook.
type table struct {
	Name        string   // for listed_in
	From        []string // a file's name without its ending, or a tab's
	Files, Tabs []string // patterns
	Header      string   // a word in the header row, or its number; "" to be found by the columns
	Levels      int      // rows of the header
	Order       source   // of the order's number
	Skip        []condition
	Until       []condition // the first row that is no longer of the table
	FillDown    []string
	HiddenRows  bool
	HiddenTabs  bool
	Overlap     bool // of an order in several files the last file's rows count
	Unit        form.Unit
	Days        wording.Order
	Decimal     wording.Decimal
	decimalSaid bool
	Blank       map[string]bool
	Words       map[string]string
	Sheets      []*sheet
	at          yaml.Node
}

// A sheet says where a table holds the rows of one order sheet.
type sheet struct {
	*sheets.Sheet
	Columns map[string]source // by the sheet's column
	Place   source            // of measurements: a cell that says the point or the height
	Reason  source            // of outcomes: a text that says zone, direction, side, cause
	Numbers []number          // of measurements: columns of numbers
}

// A source is where a value comes from.
type source struct {
	Column    string            // header
	Always    string            // the same in every row
	Words     map[string]string // the shop's word, plain → the sheet's
	Filled    string            // what any other text means
	Empty     string            // what an empty cell means
	Phrases   []wording.Phrase  // what a phrase in the text means
	Without   string            // take this off the text's beginning or end; a text without it gives nothing
	ListedIn  string            // the name of a table: yes where the order is in it
	Otherwise string            // and what else
	Unit      form.Unit
	hasFilled bool
	at        yaml.Node
}

func (s source) given() bool { return s.Column != "" || s.Always != "" || s.ListedIn != "" }

// A number says which columns hold numbers of a form: one by its header, or all
// that a pattern fits, as `{point} {side}`.
type number struct {
	Column  string
	pattern *pattern
	Nth     int
	wording.Place
	Unit form.Unit
	at   yaml.Node
}

// A condition is true of a row whose cell in a column is one of Is, or none of
// Not: patterns with * and ?, or the words empty, number, day.
type condition struct {
	Column  string
	Is, Not []string
}

// like reports whether a pattern with * and ? fits a text, whatever its case.
func like(pattern, text string) bool {
	ok, err := filepath.Match(wording.Plain(pattern), strings.ReplaceAll(wording.Plain(text), "/", "∕"))
	if strings.Contains(pattern, "/") {
		ok, err = filepath.Match(strings.ReplaceAll(wording.Plain(pattern), "/", "∕"), strings.ReplaceAll(wording.Plain(text), "/", "∕"))
	}
	return err == nil && ok
}

// takes reports whether a table of a file is described by t. path is the
// file's path, tab its tab.
func (t *table) takes(path, tab string, tabs int) bool {
	return t.takesFile(path) && t.takesTab(path, tab, tabs) || t.isFrom(path, tab)
}

func (t *table) isFrom(path, tab string) bool {
	base := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	for _, from := range t.From {
		if sheets.Fold(from) == sheets.Fold(base) || tab != "" && sheets.Fold(from) == sheets.Fold(tab) {
			return true
		}
	}
	return false
}

// takesFile compares as many folders of the path as the pattern has.
func (t *table) takesFile(path string) bool {
	if len(t.Files) == 0 {
		return len(t.From) == 0
	}
	segments := strings.Split(filepath.ToSlash(path), "/")
	for _, pattern := range t.Files {
		n := strings.Count(pattern, "/") + 1
		tail := strings.Join(segments[max(0, len(segments)-n):], "/")
		if ok, err := filepath.Match(strings.ToLower(pattern), strings.ToLower(tail)); err == nil && ok {
			return true
		}
	}
	return false
}

func (t *table) takesTab(_, tab string, tabs int) bool {
	if tab == "" || len(t.Tabs) == 0 {
		return len(t.Tabs) == 0 && (tab == "" || tabs == 1)
	}
	for _, pattern := range t.Tabs {
		if like(pattern, tab) {
			return true
		}
	}
	return false
}

// MayTake reports whether the mapping describes any table of a file, as far as
// its path says.
func (m *Mapping) MayTake(path string) bool {
	for _, t := range m.Tables {
		if t.takesFile(path) || t.isFrom(path, "") || len(t.From) > 0 && workbookName(path) {
			return true
		}
	}
	return false
}

func workbookName(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".xlsx", ".xlsm", ".ods":
		return true
	}
	return false
}
