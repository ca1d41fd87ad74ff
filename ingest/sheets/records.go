package sheets

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"os"
	"strings"
)

// A Record is one record of a text, as it stands in the file.
type Record struct {
	No    int64 // from 0 after the header; records that are broken have no number: -1
	Line  int64 // the line it starts on, from 1
	At    int64 // the byte it starts at
	Cells []string
	Text  string // without its line end
}

// Records calls do with every record of the CSV text after the header until do
// answers false. broken are the bytes at which records start that can't be
// split; such a record ends with its line. Blank lines are no records, unless
// the table has a single column. It serves to find rows again that were kept
// out; nothing else reads a text this way. Only records that want asks for by
// number have their cells and their text; a nil want asks for all.
func (t *Table) Records(broken map[int64]bool, want func(no int64) bool, do func(Record) bool) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	r := recordReader{r: bufio.NewReaderSize(f, 1<<20), t: t, broken: broken, want: want, line: 1}
	if err := r.skipHead(); err != nil {
		return err
	}
	for {
		rec, err := r.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if !do(rec) {
			return nil
		}
	}
}

type recordReader struct {
	r      *bufio.Reader
	t      *Table
	broken map[int64]bool
	want   func(int64) bool
	text   []byte
	back   []byte // lines that were put back
	most   int    // lines that a record may have; 0: any number
	at     int64
	line   int64
	no     int64
}

func (r *recordReader) skipHead() error {
	if err := r.skipMark(); err != nil {
		return err
	}
	_, err := r.raw(false)
	return err
}

func (r *recordReader) skipMark() error {
	if mark, err := r.r.Peek(len(utf8Mark)); err == nil && bytes.Equal(mark, utf8Mark) {
		r.r.Discard(len(utf8Mark))
		r.at += int64(len(utf8Mark))
	}
	return nil
}

// next is the next record; io.EOF after the last.
func (r *recordReader) next() (Record, error) {
	for {
		rec := Record{No: -1, Line: r.line, At: r.at}
		broken := r.broken[r.at]
		raw, err := r.raw(broken)
		if err != nil {
			return rec, err
		}
		text := bytes.TrimRight(raw, "\r\n")
		blank := len(r.t.Header) > 1 && len(bytes.TrimSpace(text)) == 0
		if blank && !broken {
			continue
		}
		if !broken && r.want != nil && !r.want(r.no) {
			rec.No = r.no
			r.no++
			return rec, nil
		}
		rec.Text = string(text)
		if was, ok := r.t.blanked[rec.At]; ok {
			rec.Text = was
		}
		cells, ok := SplitRecord(text, r.t.Sep)
		if broken || !ok {
			return rec, nil
		}
		rec.Cells, rec.No = cells, r.no
		r.no++
		return rec, nil
	}
}

// raw reads lines until no quoted cell is open; only one when the record is
// broken. The text holds until the next call.
func (r *recordReader) raw(broken bool) ([]byte, error) {
	r.text = r.text[:0]
	for n := 1; ; n++ {
		line, err := r.readLine()
		r.text = append(r.text, line...)
		r.at += int64(len(line))
		if err != nil && (len(r.text) == 0 || !errors.Is(err, io.EOF)) {
			return r.text, err
		}
		r.line++
		if err != nil || broken || n == r.most || !openQuote(r.text, r.t.Sep) {
			return r.text, nil
		}
	}
}

// firstLine is the first line of a record, with its end.
func (r *recordReader) firstLine(raw []byte) []byte {
	if i := bytes.IndexByte(raw, r.lineEnd()); i >= 0 {
		return raw[:i+1]
	}
	return raw
}

// putBack has lines read again.
func (r *recordReader) putBack(lines []byte) {
	r.back = append(bytes.Clone(lines), r.back...)
	r.at -= int64(len(lines))
}

// lineEnd is a line feed, or a lone carriage return where the text has no line
// feeds.
func (r *recordReader) lineEnd() byte {
	if r.t.text.lines == 0 {
		return '\r'
	}
	return '\n'
}

// readLine reads up to the next line end.
func (r *recordReader) readLine() (line []byte, err error) {
	end := r.lineEnd()
	if len(r.back) > 0 { // whole lines, but for the last of the text
		line = r.firstLine(r.back)
		r.back = r.back[len(line):]
		return line, nil
	}
	line, err = r.r.ReadSlice(end)
	if errors.Is(err, bufio.ErrBufferFull) { // a line longer than the buffer
		line = append([]byte{}, line...)
		var rest []byte
		rest, err = r.r.ReadBytes(end)
		line = append(line, rest...)
	}
	return line, err
}

// openQuote reports whether the text ends inside a quoted cell.
func openQuote(text []byte, sep byte) bool {
	if bytes.IndexByte(text, '"') < 0 {
		return false
	}
	start, quoted := true, false
	for i := 0; i < len(text); i++ {
		c := text[i]
		switch {
		case quoted && c == '"' && i+1 < len(text) && text[i+1] == '"':
			i++
		case quoted && c == '"':
			quoted = false
		case start && c == '"':
			quoted = true
		}
		start = !quoted && c == sep
	}
	return quoted
}

// Mixed reports whether the text mixes two kinds of line end, which the bulk
// reader does not take.
func (t *Table) Mixed() bool { return t.text.returns && t.text.bare }

// UnifyLineEnds writes the text with line feeds alone to path and reads it
// from there on. It is no longer mixed then, so it is not written over itself.
func (t *Table) UnifyLineEnds(path string) error {
	defer func() { t.text.returns = false }()
	return t.rewrite(path, func(w *bufio.Writer, r *bufio.Reader) error {
		for {
			line, err := r.ReadBytes('\n')
			if n := len(line); n > 1 && line[n-2] == '\r' && line[n-1] == '\n' {
				line = append(line[:n-2], '\n')
			}
			w.Write(line)
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return err
			}
		}
	})
}

// Blank writes the text with the line that starts at byte at blanked to path
// and reads it from there on; every other byte stays where it was.
func (t *Table) Blank(path string, at int64) error {
	return t.rewrite(path, func(w *bufio.Writer, r *bufio.Reader) error {
		if _, err := io.CopyN(w, r, at); err != nil {
			return err
		}
		line, err := r.ReadBytes('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if t.blanked == nil {
			t.blanked = map[int64]string{}
		}
		t.blanked[at] = strings.TrimRight(string(line), "\r\n")
		for _, c := range line {
			if c != '\n' && c != '\r' {
				c = ' '
			}
			w.WriteByte(c)
		}
		_, err = io.Copy(w, r)
		return err
	})
}

func (t *Table) rewrite(path string, edit func(*bufio.Writer, *bufio.Reader) error) error {
	src, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(dst, 1<<20)
	err = edit(w, bufio.NewReaderSize(src, 1<<20))
	if err = errors.Join(err, w.Flush(), dst.Close()); err == nil {
		t.Read = path
	}
	return err
}

// LineStarts moves places in the text back to where their lines start: the
// bulk reader is at times a byte off.
func (t *Table) LineStarts(places []int64) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	end := byte('\n')
	if t.text.lines == 0 {
		end = '\r'
	}
	buf := make([]byte, 256)
	for i, at := range places {
		for at > 0 {
			n := min(at, int64(len(buf)))
			if _, err := f.ReadAt(buf[:n], at-n); err != nil {
				return err
			}
			if j := bytes.LastIndexByte(buf[:n], end); j >= 0 {
				at += int64(j) + 1 - n
				break
			}
			at -= n
		}
		places[i] = at
	}
	return nil
}
