package journal

import (
	"bytes"
	"errors"
	"io"
	"os"
)

// Whole is a text of lines without a last one that was cut short while it was
// written, which counts as not written. One without its end may be whole all the
// same, where somebody changed the file by hand: stands says so; nil says never.
func Whole(text []byte, stands func(last []byte) bool) []byte {
	end := bytes.LastIndexByte(text, '\n') + 1
	if last := text[end:]; stands != nil && stands(last) {
		return text
	}
	return text[:end]
}

// Append adds a line, its end with it, to a file of lines in one write; it is on the
// disk when Append returns, and takes the place of one that was cut short, see [Whole].
// flag is os.O_CREATE where the file need not be there. Callers of one program that may
// meet hold a lock.
func Append(root *os.Root, name string, flag int, line []byte, stands func(last []byte) bool) error {
	file, err := root.OpenFile(name, os.O_RDWR|flag, 0o600)
	if err != nil {
		return err
	}
	between, err := mend(file, stands)
	if err = errors.Join(err, file.Close()); err != nil {
		return err
	}
	// Another program may have added a line since: the system finds the end.
	file, err = root.OpenFile(name, os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	_, err = file.Write(append(between, line...))
	return errors.Join(err, file.Sync(), file.Close())
}

// mend takes a last line that was cut short off a file, and gives the end that is to
// stand between the last one and the next.
func mend(file *os.File, stands func(last []byte) bool) (between []byte, err error) {
	size, err := file.Seek(0, io.SeekEnd)
	if err != nil || size == 0 {
		return nil, err
	}
	last := make([]byte, 1)
	if _, err := file.ReadAt(last, size-1); err != nil || last[0] == '\n' {
		return nil, err // as nearly always; the file may be long
	}
	text := make([]byte, size)
	if _, err := file.ReadAt(text, 0); err != nil {
		return nil, err
	}
	whole := Whole(text, stands)
	if len(whole) == len(text) {
		return []byte("\n"), nil
	}
	return nil, file.Truncate(int64(len(whole)))
}
