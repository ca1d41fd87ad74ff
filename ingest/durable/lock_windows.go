package durable

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// Lock takes the lock of f without waiting; held is true when another
// program has it. Only a byte far past the end is locked, so that the text in
// the file can still be read.
func Lock(f *os.File) (held bool, err error) {
	at := &windows.Overlapped{Offset: 1 << 30}
	err = windows.LockFileEx(windows.Handle(f.Fd()),
		windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, at)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return true, nil
	}
	return false, err
}
