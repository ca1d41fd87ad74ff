package sheets

import (
	"bytes"
	"strings"

	"lastroom/ingest/grid"
)

var utf8Mark = []byte("\xef\xbb\xbf")

// ReadHeader reads the first record of a text as its header, and finds the
// separator: the one that yields the most cells that some sheet knows.
func (t *Table) ReadHeader() error {
	head := bytes.TrimPrefix(t.text.head, utf8Mark)
	if len(head) > maxHeader {
		head = head[:maxHeader]
	}
	end := recordEnd(head)
	if end == len(head) && len(head) >= maxHeader-len(utf8Mark) {
		return fileError(t.Name, 1, "the header line is longer than 1 MiB, so it is no order sheet")
	}
	record := trimEnd(head[:end])
	if len(bytes.TrimSpace(record)) == 0 {
		return fileError(t.Name, 1, "the first line is empty; it must hold the column names")
	}
	best := -1
	for _, sep := range []byte{',', ';', '\t'} {
		cells, ok := SplitRecord(record, sep)
		if !ok {
			continue
		}
		if n := 1000*known(cells) + len(cells); n > best {
			best, t.Sep, t.Header = n, sep, cells
		}
	}
	if best < 0 {
		return fileError(t.Name, 1, "a quote in the header line is never closed")
	}
	if len(t.Header) > grid.MaxColumns {
		return fileError(t.Name, 1, "has %d columns; a sheet has at most %d", len(t.Header), grid.MaxColumns)
	}
	t.text.head = nil
	return nil
}

// findSeparator sees which separator the records at the start of a text agree
// on: the most common number of cells over one, seen the most often; and how many
// cells most lines have.
func (t *Table) findSeparator() {
	head := bytes.TrimPrefix(t.text.head, utf8Mark)
	best := 0
	for _, sep := range []byte{',', ';', '\t', '|'} {
		rest, seen := head, map[int]int{}
		for n := 0; len(rest) > 0 && n < 200; n++ {
			end := recordEnd(rest)
			if cells, ok := SplitRecord(trimEnd(rest[:end]), sep); ok && len(cells) > 1 {
				seen[len(cells)]++
			}
			rest = rest[end:]
		}
		for cells, times := range seen {
			if score := times * min(cells, 50); score > best {
				best, t.Sep = score, sep
			}
		}
	}
	if best == 0 {
		t.Sep = ','
	}
	widths := map[int]int{}
	n := 0
	for line := range bytes.Lines(head) {
		if w := bytes.Count(line, []byte{t.Sep}) + 1; w > 1 {
			widths[w]++
		}
		if n++; n == 200 {
			break
		}
	}
	for w, times := range widths {
		if times > widths[t.width] || times == widths[t.width] && w > t.width {
			t.width = w
		}
	}
}

func trimEnd(record []byte) []byte { return bytes.TrimRight(record, "\r\n") }

// recordEnd is where the first record ends, its line end included.
func recordEnd(text []byte) int {
	quoted := false
	for i, c := range text {
		switch {
		case c == '"':
			quoted = !quoted
		case c == '\n' && !quoted:
			return i + 1
		case c == '\r' && !quoted && (i+1 == len(text) || text[i+1] != '\n'):
			return i + 1
		}
	}
	return len(text)
}

// SplitRecord splits one record (without its line end) into cells. A cell may
// be quoted; a quote inside an unquoted cell is an ordinary sign. ok is false
// when a quoted cell is not closed, or is followed by anything but a separator.
func SplitRecord(record []byte, sep byte) (cells []string, ok bool) {
	for {
		cell, rest, ok := cutCell(record, sep)
		if !ok {
			return nil, false
		}
		cells = append(cells, cell)
		if rest == nil {
			return cells, true
		}
		record = rest
	}
}

// cutCell takes the first cell; rest is nil when it was the last.
func cutCell(record []byte, sep byte) (cell string, rest []byte, ok bool) {
	if len(record) == 0 || record[0] != '"' {
		i := bytes.IndexByte(record, sep)
		if i < 0 {
			return string(record), nil, true
		}
		return string(record[:i]), record[i+1:], true
	}
	for i := 1; i < len(record); i++ {
		if record[i] != '"' {
			continue
		}
		if i+1 < len(record) && record[i+1] == '"' {
			i++
			continue
		}
		cell = strings.ReplaceAll(string(record[1:i]), `""`, `"`)
		switch {
		case i+1 == len(record):
			return cell, nil, true
		case record[i+1] == sep:
			return cell, record[i+2:], true
		}
		return "", nil, false
	}
	return "", nil, false
}

// known counts the cells that are a column of some sheet.
func known(cells []string) (n int) {
	for _, c := range cells {
		name, _ := cutSuffix(Fold(c))
		if knownNames[name] || knownNames[Fold(c)] {
			n++
		}
	}
	return n
}

var knownNames = func() map[string]bool {
	m := map[string]bool{}
	for _, s := range Catalogue {
		for _, c := range s.Columns {
			m[c.Name] = true
		}
	}
	return m
}()
