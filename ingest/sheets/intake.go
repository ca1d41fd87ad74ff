package sheets

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"unicode/utf8"
)

// Intake copies a file to kept, so that what is read is what was hashed
// whatever happens to the file meanwhile, and looks at every byte on the way.
// A text in UTF-16 or Windows-1252 is written as UTF-8 beside kept and read
// from there; which it was, Encoding says. The header is not read: see
// ReadHeader.
func Intake(ctx context.Context, path, kept string) (*Table, error) {
	src, err := openRegular(path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	dst, err := os.OpenFile(kept, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return nil, err
	}
	t := &Table{Name: filepath.Base(path), Format: formatOf(path), Kept: kept, Read: kept}
	err = t.copy(ctx, path, dst, src)
	if err = errors.Join(err, dst.Close()); err != nil {
		return nil, err
	}
	if t.Format == CSV {
		if err := t.readText(ctx, path); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// readText ends the look at a text that was copied; one that is no UTF-8 is
// written as such first.
func (t *Table) readText(ctx context.Context, path string) (err error) {
	if t.foreign {
		if t.Encoding, err = encodingOf(t.Kept); err != nil {
			return err
		}
		t.text = textFacts{}
		if t.Encoding != "" {
			t.Read = t.Kept + ".utf8"
			if err := decode(t.Kept, t.Read, t.Encoding); err != nil {
				return err
			}
		}
		if err := t.lookAgain(ctx, path); err != nil {
			return err
		}
	}
	if err := t.text.end(path); err != nil {
		return err
	}
	t.findSeparator()
	return nil
}

func (t *Table) lookAgain(ctx context.Context, path string) error {
	f, err := os.Open(t.Read)
	if err != nil {
		return err
	}
	defer f.Close()
	buf := make([]byte, 1<<20)
	for ctx.Err() == nil {
		n, err := f.Read(buf)
		if n > 0 {
			if err := t.text.look(path, buf[:n]); err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

func openRegular(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("can't read the sheet: %w", err)
	}
	if !info.Mode().IsRegular() {
		return nil, fileError(path, 0, "is no ordinary file")
	}
	if info.Size() == 0 {
		return nil, fileError(path, 0, "is empty; a sheet has at least a header line")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("can't read the sheet: %w", err)
	}
	return f, nil
}

func formatOf(path string) Format {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".xlsx", ".xlsm", ".xlsb", ".xls":
		return XLSX
	case ".parquet":
		return Parquet
	case ".ods":
		return ODS
	}
	return CSV
}

// copy copies block by block; a block is hashed while it is looked at and
// written.
func (t *Table) copy(ctx context.Context, path string, dst io.Writer, src io.Reader) error {
	sum, buf := sha256.New(), make([]byte, 1<<20)
	var hashing sync.WaitGroup
	for {
		n, err := io.ReadFull(src, buf)
		if n > 0 {
			hashing.Go(func() { sum.Write(buf[:n]) })
			err := t.take(path, dst, buf[:n])
			hashing.Wait()
			if err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			break
		}
		if err := errors.Join(err, ctx.Err()); err != nil {
			return err
		}
	}
	t.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return nil
}

// take looks at a block and writes it.
func (t *Table) take(path string, dst io.Writer, block []byte) error {
	t.Bytes += int64(len(block))
	if t.Format == CSV && !t.foreign {
		err := t.text.look(path, block)
		t.foreign = errors.Is(err, errForeign)
		if err != nil && !t.foreign {
			return err
		}
	}
	if _, err := dst.Write(block); err != nil {
		return fmt.Errorf("can't keep a copy of %s: %w", t.Name, err)
	}
	return nil
}

// textFacts are what a pass over the bytes of a text shows.
type textFacts struct {
	head     []byte // the beginning, for the header
	rest     []byte // bytes of a character cut by the end of a block
	lines    int64  // line feeds so far
	returns  bool   // carriage returns before line feeds
	bare     bool   // line feeds without one
	returned bool   // the last byte was a carriage return
	quotes   bool
}

// errForeign is wrapped by the error of a text that is no UTF-8.
var errForeign = errors.New("")

// maxHeader is the longest header line that is read.
const maxHeader = 1 << 20

// look checks one block of the text.
func (f *textFacts) look(path string, block []byte) error {
	if f.lines == 0 && len(f.head) < maxHeader {
		if len(f.head) == 0 {
			if err := checkMark(path, block); err != nil {
				return err
			}
		}
		f.head = append(f.head, block...)
	}
	if i := bytes.IndexByte(block, 0); i >= 0 {
		return fileError(path, f.lineAt(block[:i]), "holds a NUL byte, so it is no text (or UTF-16: save it as CSV UTF-8)")
	}
	if err := f.checkUTF8(path, block); err != nil {
		return err
	}
	f.quotes = f.quotes || bytes.IndexByte(block, '"') >= 0
	f.lookAtLineEnds(block)
	return nil
}

func (f *textFacts) lineAt(before []byte) int64 {
	return f.lines + 1 + int64(bytes.Count(before, []byte{'\n'}))
}

// checkMark refuses texts that begin as another kind of file.
func checkMark(path string, block []byte) error {
	if bytes.HasPrefix(block, []byte("\xff\xfe")) || bytes.HasPrefix(block, []byte("\xfe\xff")) {
		return errForeign
	}
	for mark, what := range map[string]string{
		"PK\x03\x04":       "is a zip or XLSX file by its content; name it .xlsx if it is a workbook",
		"\xd0\xcf\x11\xe0": "is an old or password-protected office file; save it as CSV UTF-8 or as .xlsx without a password",
		"PAR1":             "is a Parquet file by its content; name it .parquet",
		"\x1f\x8b":         "is compressed; unpack it first",
	} {
		if bytes.HasPrefix(block, []byte(mark)) {
			return fileError(path, 0, "%s", what)
		}
	}
	return nil
}

func (f *textFacts) checkUTF8(path string, block []byte) error {
	text := block
	if len(f.rest) > 0 {
		text = append(f.rest, block...)
	}
	f.rest = nil
	if utf8.Valid(text) {
		return nil
	}
	i := firstInvalid(text)
	if tail := text[i:]; len(tail) < utf8.UTFMax && !utf8.FullRune(tail) {
		f.rest = append([]byte{}, tail...)
		return nil
	}
	return fmt.Errorf("%w%w", fileError(path, f.lineAt(text[:i]), "is neither UTF-8 nor any other text that is known here; save it as CSV UTF-8"), errForeign)
}

func firstInvalid(text []byte) int {
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size <= 1 {
			return i
		}
		i += size
	}
	return len(text)
}

func (f *textFacts) lookAtLineEnds(block []byte) {
	n := int64(bytes.Count(block, []byte{'\n'}))
	f.lines += n
	pairs := int64(0)
	if f.returned || bytes.IndexByte(block, '\r') >= 0 {
		pairs = int64(bytes.Count(block, []byte("\r\n")))
		if f.returned && block[0] == '\n' {
			pairs++
		}
	}
	f.returns = f.returns || pairs > 0
	f.bare = f.bare || pairs < n
	f.returned = block[len(block)-1] == '\r'
}

// end checks what is left when the text ends.
func (f *textFacts) end(path string) error {
	if len(f.rest) > 0 {
		return fileError(path, f.lines+1, "ends in the middle of a character; it was cut short")
	}
	return nil
}
