// Package durable writes files that are whole after a pulled plug, or not there, and
// locks those that one program at a time may hold.
package durable

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Replace writes a file whole or not at all: into the scratch folder of the
// same disk, synced, then renamed over path.
func Replace(path, scratch string, write func(*os.File) error) error {
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
	return SyncFolder(filepath.Dir(path))
}

// Write writes a file whole or not at all, beside its place: what is left of one
// that was cut short is written over by the next.
func Write(path string, mode fs.FileMode, text []byte) error {
	beside := path + ".new"
	f, err := os.OpenFile(beside, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, mode)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(beside, path)
	}
	if err != nil {
		os.Remove(beside)
		return err
	}
	return SyncFolder(filepath.Dir(path))
}

// longestWrite is how long Write may be at a file.
const longestWrite = time.Hour

// Sweep removes what Write or Replace left where it was cut short, by a pattern of
// paths, for places where no later one has the same name.
func Sweep(pattern string) error {
	left, err := filepath.Glob(pattern)
	for _, path := range left {
		if info, gone := os.Lstat(path); gone == nil && time.Since(info.ModTime()) > longestWrite {
			err = errors.Join(err, Remove(path))
		}
	}
	return err
}

// Copy copies from into the new file to.
func Copy(to, from string) error {
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

// Sync makes the content of a file durable.
func Sync(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Remove removes a file that may not be there.
func Remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// Hash is the SHA-256 of a file in hex digits.
func Hash(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
