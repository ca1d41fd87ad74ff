package sheets

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"os"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Encodings that texts come in, as they are told to people.
const (
	utf16Text   = "UTF-16"
	windowsText = "Windows-1252"
)

var decoders = map[string]encoding.Encoding{
	utf16Text:   unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM),
	windowsText: charmap.Windows1252,
}

// encodingOf sees from the bytes of a text how its letters are written; ""
// for UTF-8. A text with a byte-order mark of UTF-16 is that; one in which
// bytes stand that UTF-8 does not know, and no letter written in several bytes
// as UTF-8 has them, is Windows-1252, as spreadsheet programs save it.
func encodingOf(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, 1<<20)
	if mark, _ := r.Peek(2); bytes.Equal(mark, []byte("\xff\xfe")) || bytes.Equal(mark, []byte("\xfe\xff")) {
		return utf16Text, nil
	}
	invalid, several := 0, 0
	for {
		block, err := r.Peek(r.Size())
		if len(block) == 0 {
			break
		}
		last := errors.Is(err, io.EOF)
		n := 0
		for n < len(block) {
			if block[n] < utf8.RuneSelf {
				n++
				continue
			}
			if !last && !utf8.FullRune(block[n:]) {
				break
			}
			c, size := utf8.DecodeRune(block[n:])
			if c == utf8.RuneError && size == 1 {
				invalid++
			} else {
				several++
			}
			n += size
		}
		r.Discard(n)
	}
	if invalid > 0 && several == 0 {
		return windowsText, nil
	}
	return "", nil
}

// decode writes the text at from as UTF-8 to the file to.
func decode(from, to, name string) (err error) {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, transform.NewReader(bufio.NewReaderSize(src, 1<<20), decoders[name].NewDecoder()))
	return errors.Join(err, dst.Close())
}
