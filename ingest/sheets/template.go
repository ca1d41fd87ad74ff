package sheets

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/xuri/excelize/v2"

	"lastroom/ingest/durable"
	"lastroom/ingest/grid"
)

// templateRows is for how many rows a template's drop-down lists are there.
const templateRows = 2000

// WriteTemplates writes empty order sheets into a folder, for a shop that
// starts fresh: a CSV file for each sheet, and one workbook with a tab for each
// in which cells that hold one of a few words have a list to choose from. Files
// that are there already are never written over.
func WriteTemplates(dir string) (names []string, err error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	book := filepath.Join(dir, "order sheets.xlsx")
	paths := []string{book}
	for _, s := range Catalogue {
		paths = append(paths, filepath.Join(dir, s.Name+".csv"))
	}
	for i, p := range paths {
		// Empty sheets without the workbook, which comes last, were cut short.
		if was, err := os.ReadFile(p); err == nil && (i == 0 || !bytes.Equal(was, emptySheet(Catalogue[i-1]))) {
			return nil, fileError(p, 0, "is there already; name a new folder")
		}
	}
	f := excelize.NewFile()
	defer f.Close()
	for i, s := range Catalogue {
		var header []string
		for _, c := range s.Columns {
			header = append(header, c.Name)
		}
		if err := durable.Write(paths[i+1], 0o666, emptySheet(s)); err != nil {
			return nil, err
		}
		if err := templateTab(f, s, header); err != nil {
			return nil, fmt.Errorf("writing the template of %s: %w", s.Name, err)
		}
	}
	if err := f.DeleteSheet("Sheet1"); err != nil {
		return nil, err
	}
	f.SetActiveSheet(0)
	workbook, err := f.WriteToBuffer()
	if err != nil {
		return nil, err
	}
	return paths, durable.Write(book, 0o666, workbook.Bytes())
}

// emptySheet is a sheet with nothing but its header, as a spreadsheet program reads it.
func emptySheet(s *Sheet) []byte {
	var header []string
	for _, c := range s.Columns {
		header = append(header, c.Name)
	}
	return []byte("\ufeff" + strings.Join(header, ",") + "\r\n")
}

func templateTab(f *excelize.File, s *Sheet, header []string) error {
	if _, err := f.NewSheet(s.Name); err != nil {
		return err
	}
	err := errors.Join(f.SetSheetRow(s.Name, "A1", &header),
		f.SetPanes(s.Name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	text, styleErr := f.NewStyle(&excelize.Style{NumFmt: 49}) // as text, so that 14 5/8 or 007 stays what was typed
	err = errors.Join(err, styleErr)
	for i, name := range header {
		c, _ := s.Column(name)
		col := grid.ColumnName(i)
		words := c.Words
		if c.Kind == YesNo {
			words = []string{"yes", "no", "unknown"}
		}
		if c.Kind != Day {
			err = errors.Join(err, f.SetColStyle(s.Name, col, text))
		}
		if len(words) == 0 {
			continue
		}
		v := excelize.NewDataValidation(true)
		v.Sqref = fmt.Sprintf("%s2:%s%d", col, col, templateRows)
		err = errors.Join(err, v.SetDropList(words))
		if c.Kind == Open { // the shop may have words of its own
			v.ShowErrorMessage = false
		}
		err = errors.Join(err, f.AddDataValidation(s.Name, v))
	}
	return err
}
