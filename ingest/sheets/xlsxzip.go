package sheets

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"regexp"
	"strings"
)

// checkZip looks at a workbook's container before it is unpacked: that it is
// one, its size, and that no wanted tab holds a formula.
func checkZip(t *Table, want func(tab string) bool) error {
	if err := checkContainer(t); err != nil {
		return err
	}
	z, err := zip.OpenReader(t.Kept)
	if err != nil {
		return &FileError{File: t.Name, Reason: "is damaged or was cut short: it can't be unpacked as a workbook (" + err.Error() + ")"}
	}
	defer z.Close()
	if len(z.File) > maxEntries {
		return &FileError{File: t.Name, Reason: fmt.Sprintf("holds %d parts, more than a workbook's %d", len(z.File), maxEntries)}
	}
	total := uint64(0)
	for _, e := range z.File {
		if total += e.UncompressedSize64; e.UncompressedSize64 > maxUnzipped || total > maxUnzipped {
			return &FileError{File: t.Name, Reason: fmt.Sprintf("unpacks to more than %d MiB; save it as CSV UTF-8", maxUnzipped>>20)}
		}
	}
	return checkFormulas(t, &z.Reader, want)
}

// checkContainer tells a password-protected or an old workbook by its first
// bytes.
func checkContainer(t *Table) error {
	f, err := os.Open(t.Kept)
	if err != nil {
		return err
	}
	defer f.Close()
	var head [8]byte
	if _, err := io.ReadFull(f, head[:]); err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return err
	}
	switch {
	case strings.HasPrefix(string(head[:]), "\xd0\xcf\x11\xe0"):
		return &FileError{File: t.Name, Reason: "is protected by a password, or an old .xls workbook; save it as .xlsx without a password"}
	case !strings.HasPrefix(string(head[:]), "PK"):
		return &FileError{File: t.Name, Reason: "is no workbook by its content; a text file must be named .csv"}
	}
	return nil
}

var (
	formula = regexp.MustCompile(`<(?:\w+:)?f(?:\s[^>]*)?/?>`)
	cellRef = regexp.MustCompile(`<(?:\w+:)?c\s[^>]*?\br="([A-Z]{1,3}[0-9]{1,7})"`)
)

func checkFormulas(t *Table, z *zip.Reader, want func(tab string) bool) error {
	tabs, err := tabParts(z)
	if err != nil {
		return &FileError{File: t.Name, Reason: "is damaged: its list of tabs can't be read (" + err.Error() + ")"}
	}
	for _, tab := range tabs {
		if !want(tab.name) {
			continue
		}
		text, err := readPart(z, tab.part)
		if err != nil {
			return &FileError{File: t.Name, Reason: "is damaged: tab " + tab.name + " can't be unpacked (" + err.Error() + ")"}
		}
		if at := formula.FindIndex(text); at != nil {
			where := ""
			if refs := cellRef.FindAllSubmatch(text[max(0, at[0]-4096):at[0]], -1); len(refs) > 0 {
				where = " in cell " + string(refs[len(refs)-1][1])
			}
			return &FileError{File: t.Name, Reason: "tab " + tab.name + " holds a formula" + where + "; an order sheet holds values: copy the tab, paste it as values and save that"}
		}
	}
	return nil
}

// A tabPart is a tab of a workbook and the part of the container it stands in.
type tabPart struct{ name, part string }

// tabParts reads which tab stands in which part (ECMA-376 part 1, 18.2.20 and
// the relationships of part 2).
func tabParts(z *zip.Reader) ([]tabPart, error) {
	var book struct {
		Sheets []struct {
			Name string     `xml:"name,attr"`
			Any  []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		Rel []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	for part, into := range map[string]any{"xl/workbook.xml": &book, "xl/_rels/workbook.xml.rels": &rels} {
		text, err := readPart(z, part)
		if err != nil {
			return nil, err
		}
		if err := xml.Unmarshal(text, into); err != nil {
			return nil, err
		}
	}
	target := map[string]string{}
	for _, r := range rels.Rel {
		target[r.ID] = path.Join("xl", r.Target)
		if strings.HasPrefix(r.Target, "/") {
			target[r.ID] = r.Target[1:]
		}
	}
	var tabs []tabPart
	for _, s := range book.Sheets {
		for _, a := range s.Any {
			if a.Name.Local == "id" && target[a.Value] != "" {
				tabs = append(tabs, tabPart{s.Name, target[a.Value]})
			}
		}
	}
	return tabs, nil
}

func readPart(z *zip.Reader, name string) ([]byte, error) {
	f, err := z.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxUnzipped+1))
}
