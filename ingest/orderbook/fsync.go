package orderbook

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// replaceFile writes a file whole or not at all: into the scratch folder,
// synced, then renamed over path.
func replaceFile(path, scratch string, write func(*os.File) error) error {
	if err := os.MkdirAll(scratch, 0o700); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(scratch, filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	err = write(tmp)
	err = errors.Join(err, tmp.Sync(), tmp.Close())
	if err == nil {
		err = os.Rename(tmp.Name(), path)
	}
	if err != nil {
		os.Remove(tmp.Name())
		return err
	}
	return syncDir(filepath.Dir(path))
}

// copyFile copies from into the new file to.
func copyFile(to, from string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return errors.Join(err, dst.Close())
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// DiskFull reports whether an error, the engine's too, comes of a disk without
// room.
func DiskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || err != nil && strings.Contains(err.Error(), "No space left on device")
}
