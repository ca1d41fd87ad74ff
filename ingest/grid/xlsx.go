package grid

import (
	"context"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"strconv"
	"strings"
	"sync"
	"time"
)

// A workbook is an XLSX file, open: ECMA-376 part 1, SpreadsheetML. Its tabs
// are read as they stand in the file, row by row; what a formula gave when the
// file was saved is its value, and links to other files are never followed.
type workbook struct {
	*container
	texts    []string // the table of texts that cells share
	formats  []format // by the cells' style number
	from1904 bool
	tabs     []xlsxTab
}

type xlsxTab struct {
	name, part string
	hidden     bool
}

// XLSX lists the tabs of a workbook. The file is opened again for each
// reading of a tab.
func XLSX(f File) ([]*Grid, error) {
	w, err := f.openXLSX(false)
	if err != nil {
		return nil, err
	}
	defer w.zip.Close()
	// What the tabs share is read once, by the first that is read.
	outside := sync.OnceValues(func() (*workbook, error) {
		w, err := f.openXLSX(true)
		if err != nil {
			return nil, err
		}
		return w, w.zip.Close()
	})
	var grids []*Grid
	read := map[string]bool{}
	for _, tab := range w.tabs {
		if read[tab.part] {
			return nil, f.wrong("is damaged: several of its tabs are the same part %s", path.Base(tab.part))
		}
		read[tab.part] = true
		g := &Grid{File: f.Name, Tab: tab.name, Hidden: tab.hidden}
		g.Rows = func(ctx context.Context, do func(Row) bool) error {
			shared, err := outside()
			if err != nil {
				return err
			}
			c, err := f.open()
			if err != nil {
				return err
			}
			w := *shared
			w.container = c
			return errors.Join(w.rows(ctx, tab, do), c.zip.Close())
		}
		grids = append(grids, g)
	}
	return grids, nil
}

// openXLSX reads what stands outside the tabs: their names and, if asked for,
// the shared texts and the number formats.
func (f File) openXLSX(whole bool) (*workbook, error) {
	c, err := f.open()
	if err != nil {
		return nil, err
	}
	w := &workbook{container: c}
	err = w.readTabs()
	if whole {
		if err == nil {
			err = w.readFormats()
		}
		if err == nil {
			err = w.readTexts()
		}
	}
	if err != nil {
		return nil, errors.Join(err, c.zip.Close())
	}
	return w, nil
}

// each calls do with every token of a part.
func (c *container) each(part string, do func(xml.Token) error) error {
	d, f, err := c.tokens(part)
	if err != nil {
		return err
	}
	defer f.Close()
	for {
		tok, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = do(tok)
		}
		if errors.Is(err, errStop) {
			return nil
		}
		if err != nil {
			return c.damaged(part, err)
		}
	}
}

var errStop = errors.New("enough was read")

// has reports whether the container holds a part.
func (c *container) has(part string) bool {
	for _, f := range c.zip.File {
		if f.Name == part {
			return true
		}
	}
	return false
}

func (w *workbook) readTabs() error {
	target := map[string]string{}
	err := w.each("xl/_rels/workbook.xml.rels", func(tok xml.Token) error {
		if e, ok := tok.(xml.StartElement); ok && e.Name.Local == "Relationship" && attr(e, "TargetMode") != "External" {
			to := attr(e, "Target")
			if strings.HasPrefix(to, "/") {
				target[attr(e, "Id")] = to[1:]
			} else {
				target[attr(e, "Id")] = path.Join("xl", to)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	err = w.each("xl/workbook.xml", func(tok xml.Token) error {
		e, ok := tok.(xml.StartElement)
		switch {
		case ok && e.Name.Local == "workbookPr":
			w.from1904 = attr(e, "date1904") == "1" || attr(e, "date1904") == "true"
		case ok && e.Name.Local == "sheet":
			part := target[attr(e, "id")]
			if part != "" && strings.Contains(part, "sheet") && w.has(part) {
				w.tabs = append(w.tabs, xlsxTab{attr(e, "name"), part, strings.Contains(strings.ToLower(attr(e, "state")), "hidden")})
			}
		}
		return nil
	})
	if err == nil && len(w.tabs) == 0 {
		err = w.f.wrong("is damaged: it lists no tab")
	}
	return err
}

func (w *workbook) readTexts() error {
	const part = "xl/sharedStrings.xml"
	if !w.has(part) {
		return nil
	}
	var text strings.Builder
	in, phonetic, size := false, 0, 0
	return w.each(part, func(tok xml.Token) error {
		switch e := tok.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "si":
				text.Reset()
			case "t":
				in = true
			case "rPh":
				phonetic++
			}
		case xml.CharData:
			if in && phonetic == 0 && text.Len() <= maxCellText {
				text.Write(e)
			}
		case xml.EndElement:
			switch e.Name.Local {
			case "t":
				in = false
			case "rPh":
				phonetic--
			case "si":
				if size += text.Len(); size > int(max(maxSharedTexts, w.f.Unpack)) || w.f.Unpack == 0 && len(w.texts) >= maxSharedCount {
					return w.f.wrong("has more than %d MiB or %d different texts in its cells; lastroom load --unpack allows more, or save each tab as CSV UTF-8, which has no such limit", max(maxSharedTexts, w.f.Unpack)>>20, maxSharedCount)
				}
				w.texts = append(w.texts, text.String())
			}
		}
		return nil
	})
}

// rows reads the rows of a tab.
func (w *workbook) rows(ctx context.Context, tab xlsxTab, do func(Row) bool) error {
	r := tabRows{w: w, tab: tab, do: do, left: w.limit}
	n := 0
	err := w.each(tab.part, func(tok xml.Token) error {
		if n++; n%65536 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		switch e := tok.(type) {
		case xml.StartElement:
			return r.start(e)
		case xml.CharData:
			if r.in && r.text.Len() <= maxCellText {
				r.text.Write(e)
			}
		case xml.EndElement:
			return r.end(e.Name.Local)
		}
		return nil
	})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// tabRows gathers the cells of a tab's rows.
type tabRows struct {
	w    *workbook
	tab  xlsxTab
	do   func(Row) bool
	row  Row
	some bool
	left int64 // bytes of text that may still be read

	at      int // the cell's column, from 0
	kind    string
	style   int
	formula bool
	in      bool
	text    strings.Builder
}

func (r *tabRows) start(e xml.StartElement) error {
	switch e.Name.Local {
	case "row":
		no := r.row.No + 1
		if n, err := strconv.Atoi(attr(e, "r")); err == nil && n > 0 && n < 1<<30 {
			no = int32(n)
		}
		hidden := attr(e, "hidden")
		r.row = Row{No: no, Hidden: hidden == "1" || hidden == "true", Cells: r.row.Cells[:0]}
		r.some, r.at = false, -1
	case "c":
		r.at++
		if at := columnOf(attr(e, "r")); at >= 0 {
			r.at = at
		}
		r.kind, r.formula = attr(e, "t"), false
		r.style, _ = strconv.Atoi(attr(e, "s"))
		r.text.Reset()
	case "f":
		r.formula = true
	case "v", "t":
		r.in = true
	}
	return nil
}

func (r *tabRows) end(name string) error {
	switch name {
	case "v", "t":
		r.in = false
	case "c":
		return r.cell()
	case "row":
		if r.some && !r.do(r.row) {
			return errStop
		}
	case "sheetData":
		return errStop
	}
	return nil
}

// cell takes a cell up. An empty one takes no room.
func (r *tabRows) cell() error {
	c := Cell{Text: r.text.String(), Formula: r.formula}
	switch r.kind {
	case "s":
		n, err := strconv.Atoi(strings.TrimSpace(c.Text))
		if err != nil || n < 0 || n >= len(r.w.texts) {
			return errors.New("a cell names a text that is not there")
		}
		c.Text = r.w.texts[n]
	case "b":
		c.Text = map[string]string{"1": "true", "0": "false"}[c.Text]
	case "d":
		c.Text, c.Kind = c.Text[:min(len(c.Text), len(time.DateOnly))], Day
	case "", "n":
		r.number(&c)
	}
	if strings.TrimSpace(c.Text) == "" {
		return nil
	}
	if len(c.Text) > maxCellText {
		return r.w.f.wrong("tab %s has a text of more than %d letters in row %d, as no spreadsheet program writes it; shorten it", r.tab.name, maxCellText, r.row.No)
	}
	if r.at >= MaxColumns {
		return r.w.f.wrong("tab %s has something in column %s of row %d; at most %d columns are read: delete what stands to the right of them", r.tab.name, ColumnName(r.at), r.row.No, MaxColumns)
	}
	if r.left -= int64(len(c.Text)); r.left < 0 {
		return r.w.tooMuch()
	}
	for len(r.row.Cells) <= r.at {
		r.row.Cells = append(r.row.Cells, Cell{})
	}
	c.Text = strings.ReplaceAll(c.Text, "\x00", "")
	r.row.Cells[r.at], r.some = c, true
	return nil
}

// number reads a number as its format shows it.
func (r *tabRows) number(c *Cell) {
	x, err := strconv.ParseFloat(c.Text, 64)
	if err != nil {
		return
	}
	c.Kind = Number
	var f format
	if r.style > 0 && r.style < len(r.w.formats) {
		f = r.w.formats[r.style]
	} else if r.style == 0 && len(r.w.formats) > 0 {
		f = r.w.formats[0]
	}
	if day, ok := DayOf(x, r.w.from1904); f.day && ok {
		c.Text, c.Kind = day, Day
		return
	}
	c.Text = shortest(x) + f.unit
}

// columnOf is the place of a cell by its name, C7 → 2; -1 for none.
func columnOf(ref string) int {
	at := 0
	for i := 0; i < len(ref) && ref[i] >= 'A' && ref[i] <= 'Z' && i < 4; i++ {
		at = at*26 + int(ref[i]-'A') + 1
	}
	return at - 1
}

// ColumnName is the letters of a column, from 0: 2 → C.
func ColumnName(at int) string {
	name := ""
	for at++; at > 0; at = (at - 1) / 26 {
		name = string(rune('A'+(at-1)%26)) + name
	}
	return name
}
