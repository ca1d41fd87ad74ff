package grid

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// A File is a workbook: its name for people, where it is, its size.
type File struct {
	Name, Path string
	Bytes      int64
	Unpack     int64 // bytes that it may unpack to; 0: in proportion to its size
}

// A container is the zip file of a workbook, open, with what may be unpacked
// of it: in proportion to its size, so that a small file never costs much.
type container struct {
	f     File
	zip   *zip.ReadCloser
	limit int64 // bytes that one part may unpack to, and texts may take
}

const maxEntries = 2000

// openContainer opens a workbook's zip file. Whatever is none is told by its
// first bytes.
func (f File) open() (*container, error) {
	file, err := os.Open(f.Path)
	if err != nil {
		return nil, err
	}
	var head [8]byte
	_, err = io.ReadFull(file, head[:])
	if file.Close(); err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	switch {
	case strings.HasPrefix(string(head[:]), "\xd0\xcf\x11\xe0"):
		return nil, f.wrong("is protected by a password, or an old .xls workbook; open it and save it as .xlsx without a password")
	case !strings.HasPrefix(string(head[:]), "PK"):
		return nil, f.wrong("is no workbook by its content; a text file must be named .csv")
	}
	z, err := zip.OpenReader(f.Path)
	if err != nil {
		return nil, f.wrong("is damaged or was cut short: it can't be unpacked as a workbook (%s)", err)
	}
	c := &container{f, z, cmp.Or(f.Unpack, minUnpacked+unpackedRatio*f.Bytes)}
	if err := c.check(); err != nil {
		return nil, errors.Join(err, z.Close())
	}
	return c, nil
}

// check looks at the parts of the container before any is unpacked.
func (c *container) check() error {
	if len(c.zip.File) > maxEntries && c.f.Unpack == 0 {
		return c.f.wrong("holds %d parts, more than the %d that are read; lastroom load --unpack allows more, or save each tab as CSV UTF-8, which has no such limit", len(c.zip.File), maxEntries)
	}
	total := uint64(0)
	for _, e := range c.zip.File {
		if e.Name == "xl/workbook.bin" {
			return c.f.wrong("is a binary workbook (.xlsb); open it and save it as .xlsx")
		}
		if total += e.UncompressedSize64; total > uint64(c.limit) || e.UncompressedSize64 > uint64(c.limit) {
			return c.tooMuch()
		}
	}
	return nil
}

func (c *container) tooMuch() error {
	return c.f.wrong("unpacks to more than %d MiB, the most for a file of its size unless lastroom load --unpack allows more; or save each tab as CSV UTF-8, which has no such limit", c.limit>>20)
}

func (f File) wrong(format string, args ...any) error {
	return &FileError{File: f.Name, Reason: fmt.Sprintf(format, args...)}
}

// tokens opens a part as XML. The decoder's RawToken is to be used: nothing is
// held of what was read before.
func (c *container) tokens(part string) (*xml.Decoder, io.Closer, error) {
	f, err := c.zip.Open(part)
	if err != nil {
		return nil, nil, c.f.wrong("is damaged: its part %s can't be unpacked (%s)", filepath.Base(part), err)
	}
	d := xml.NewDecoder(&narrow{r: f, left: c.limit, tooMuch: c.tooMuch()})
	d.Strict = false
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	return d, f, nil
}

// damaged tells what kept a part from being read.
func (c *container) damaged(part string, err error) error {
	var known *FileError
	if errors.As(err, &known) {
		return err
	}
	return c.f.wrong("is damaged: its part %s can't be read (%s)", part, err)
}

// narrow passes on what is read as long as no tag and no text in it is longer
// than any that a workbook holds, and as all of it is within the limit.
type narrow struct {
	r       io.Reader
	left    int64
	run     int // bytes since the last '<'
	tooMuch error
}

const maxRun = 1 << 20

func (n *narrow) Read(p []byte) (int, error) {
	got, err := n.r.Read(p)
	if n.left -= int64(got); n.left < 0 {
		return 0, n.tooMuch
	}
	for rest := p[:got]; len(rest) > 0; {
		at := bytes.IndexByte(rest, '<')
		if at < 0 {
			n.run += len(rest)
			break
		}
		if n.run += at; n.run > maxRun {
			break
		}
		n.run, rest = 0, rest[at+1:]
	}
	if n.run > maxRun {
		return 0, errors.New("it holds a text longer than 1 MiB")
	}
	return got, err
}

// attr is the value of an attribute, whatever its namespace.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
