package sheets

import (
	"archive/zip"
	"bytes"
	"errors"
	"html"
	"io"
	"os"
	"regexp"
	"strings"

	"github.com/xuri/excelize/v2"
)

// leaveOutWorkbook is LeaveOut for a workbook. Texts that only the dropped rows
// had are blanked in the workbook's table of texts too.
func leaveOutWorkbook(path, to string, drop func(column, cell string) bool) (dropped int64, known bool, err error) {
	f, err := excelize.OpenFile(path)
	if err != nil {
		return 0, false, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	gone, stays := map[string]bool{}, map[string]bool{}
	for _, tab := range f.GetSheetList() {
		n, ok, err := leaveOutTab(f, tab, drop, gone, stays)
		if err != nil {
			return 0, false, err
		}
		if !ok {
			return 0, false, nil
		}
		dropped += n
	}
	known = true
	if dropped == 0 {
		return 0, known, nil
	}
	for text := range stays {
		delete(gone, text)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		return 0, known, err
	}
	return dropped, known, blankTexts(to, b.Bytes(), gone)
}

// leaveOutTab takes the rows out of a tab; known is false where it has no column
// that says whose a row is, and drop is true of some cell.
func leaveOutTab(f *excelize.File, tab string, drop func(column, cell string) bool, gone, stays map[string]bool) (dropped int64, known bool, err error) {
	const above = 30 // rows before the header, at most
	rows, err := f.GetRows(tab, excelize.Options{RawCellValue: true})
	if err != nil {
		return 0, false, err
	}
	header, columns := 0, map[int]string{}
	for ; header < min(len(rows), above) && len(columns) == 0; header++ {
		columns = WhoseColumns(rows[header])
	}
	if len(columns) == 0 {
		for _, row := range rows {
			for _, cell := range row {
				stays[cell] = true
				if drop("", strings.TrimSpace(cell)) {
					return 0, false, nil
				}
			}
		}
		return 0, true, nil
	}
	for i := len(rows) - 1; i >= 0; i-- {
		texts := stays
		if i >= header && dropRow(rows[i], columns, drop) {
			texts = gone
			if err := f.RemoveRow(tab, i+1); err != nil {
				return dropped, true, err
			}
			dropped++
		}
		for _, cell := range rows[i] {
			texts[cell] = true
		}
	}
	return dropped, true, nil
}

var (
	textItem = regexp.MustCompile(`(?s)<si>.*?</si>`)
	textPart = regexp.MustCompile(`(?s)<t[^>]*>(.*?)</t>`)
)

// blankTexts writes the workbook to a file with some of its shared texts empty.
func blankTexts(to string, book []byte, gone map[string]bool) error {
	in, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	if err != nil {
		return err
	}
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	out := zip.NewWriter(dst)
	for _, entry := range in.File {
		if err := copyEntry(out, entry, gone); err != nil {
			return errors.Join(err, dst.Close())
		}
	}
	return errors.Join(out.Close(), dst.Close())
}

func copyEntry(out *zip.Writer, entry *zip.File, gone map[string]bool) error {
	if entry.Name != "xl/sharedStrings.xml" {
		return out.Copy(entry)
	}
	r, err := entry.Open()
	if err != nil {
		return err
	}
	text, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil {
		return err
	}
	text = textItem.ReplaceAllFunc(text, func(item []byte) []byte {
		var whole strings.Builder
		for _, part := range textPart.FindAllSubmatch(item, -1) {
			whole.Write(part[1])
		}
		if gone[html.UnescapeString(whole.String())] {
			return []byte("<si><t></t></si>")
		}
		return item
	})
	w, err := out.Create(entry.Name)
	if err != nil {
		return err
	}
	_, err = w.Write(text)
	return err
}
