// Package whole writes files beside a book, inside its folder and nowhere else, that
// are whole after a kill or a pulled plug, or as they were.
package whole

import (
	"errors"
	"os"
)

// unfinished ends the name of a file while it is written. One that is left over is
// written over by the next.
const unfinished = ".new"

// Write writes a file beside its place and then puts it there.
func Write(root *os.Root, name string, text []byte) error {
	f, err := root.OpenFile(name+unfinished, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return root.Rename(name+unfinished, name)
}
