//go:build unix

package durable

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// Lock takes the lock of f without waiting; held is true when another
// program has it. The system drops the lock when the process ends, however.
func Lock(f *os.File) (held bool, err error) {
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return true, nil
	}
	return false, err
}
