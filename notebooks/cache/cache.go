// Package cache keeps results that took long to compute as files in a folder,
// so that nobody waits twice for the same answer.
//
// An entry is found by a key made of everything its content depends on: the
// text that asked, the parameters, the as-of day, the hash of the book's
// content and the identity of the program. Nothing is ever updated: other
// input, other key. Entries are written whole or not at all, carry a checksum,
// and one that does not match it is treated as not there.
package cache

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sort"
	"strings"
	"time"
)

// A Dir is a folder of entries. The zero Dir keeps nothing.
type Dir struct {
	path string
	most int64 // bytes kept
}

// mostBytes is how much a folder holds before its oldest entries go; or twice its
// largest entry, so that the orders of a large book have room beside the rest.
const mostBytes = 256 << 20

// In is the cache in a folder, which is made when first written to.
func In(path string) Dir { return Dir{path, mostBytes} }

// Key names an entry after all parts that its content depends on. Parts are
// told apart: ("ab", "c") and ("a", "bc") are different keys.
func Key(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		var n [8]byte
		binary.BigEndian.PutUint64(n[:], uint64(len(p)))
		h.Write(n[:])
		h.Write([]byte(p))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// A Shelf is the part of a folder whose entries rest on the same state of the
// book. The zero Shelf keeps nothing.
type Shelf struct {
	Dir
	state []string
}

// Shelf is the shelf of what a state is made of.
func (d Dir) Shelf(state ...string) Shelf { return Shelf{d, state} }

// Key names an entry of the shelf after all it depends on besides the state.
func (s Shelf) Key(parts ...string) string { return Key(slices.Concat(s.state, parts)...) }

const magic = "lastroom cache 3\n" // then the data, then their SHA-256

// get reads the entry of a key and the time it was made.
func (d Dir) get(key string) (_ []byte, made time.Time, ok bool) {
	if d.path == "" {
		return nil, made, false
	}
	b, err := os.ReadFile(d.file(key))
	if err != nil {
		return nil, made, false
	}
	tail := len(b) - sha256.Size
	if tail < len(magic) || string(b[:len(magic)]) != magic {
		return nil, made, false
	}
	data := b[len(magic):tail]
	if sum := sha256.Sum256(data); !bytes.Equal(sum[:], b[tail:]) {
		return nil, made, false
	}
	info, err := os.Stat(d.file(key))
	if err != nil {
		return nil, made, false
	}
	return data, info.ModTime(), true
}

// An entry is called unfinished and a number while it is written; one that is older
// than longestWrite was left by a program that was killed.
const (
	unfinished   = ".new-"
	longestWrite = time.Hour
)

// put writes an entry, first beside its place, then renamed into it. Its text need not
// be in memory.
func (d Dir) put(key string, write func(w io.Writer) error) error {
	if d.path == "" {
		return nil
	}
	if err := os.MkdirAll(d.path, 0o777); err != nil {
		return err
	}
	f, err := os.CreateTemp(d.path, unfinished+"*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already once renamed
	sum := sha256.New()
	w := bufio.NewWriterSize(io.MultiWriter(f, sum), 64<<10)
	_, err = f.WriteString(magic)
	err = errors.Join(err, write(w), w.Flush())
	if err == nil {
		_, err = f.Write(sum.Sum(nil))
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), d.file(key)); err != nil {
		return err
	}
	return d.prune()
}

func (d Dir) file(key string) string { return filepath.Join(d.path, key) }

// prune removes the oldest entries while the folder holds too much, and what a
// killed program left half written.
func (d Dir) prune() error {
	entries, err := os.ReadDir(d.path)
	if err != nil {
		return err
	}
	var files []fs.FileInfo
	var total int64
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		if strings.HasPrefix(e.Name(), unfinished) && time.Since(info.ModTime()) > longestWrite {
			_ = os.Remove(d.file(e.Name())) // another program may have been first
			continue
		}
		files = append(files, info)
		total += info.Size()
	}
	most := d.most
	for _, f := range files {
		most = max(most, 2*f.Size())
	}
	sort.Slice(files, func(i, j int) bool { return files[i].ModTime().Before(files[j].ModTime()) })
	for _, f := range files {
		if total <= most {
			return nil
		}
		if err := os.Remove(d.file(f.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		total -= f.Size()
	}
	return nil
}

// Of gives the cached value of a key or computes it and keeps it. One that can't
// be kept is returned all the same.
func Of[T any](d Dir, key string, compute func() (T, error)) (T, error) {
	if v, _, ok := Find[T](d, key); ok {
		return v, nil
	}
	v, err := compute()
	if err == nil {
		_ = Keep(d, key, v) // a full disk costs time, not the answer
	}
	return v, err
}

// Find is the cached value of a key and the time it was made. A value that can't
// be read back, of whatever cause, is not there.
func Find[T any](d Dir, key string) (v T, made time.Time, ok bool) {
	text, made, ok := d.get(key)
	if !ok {
		return v, made, false
	}
	body, same := bytes.CutPrefix(text, layout(reflect.TypeFor[T]()))
	if !same {
		return v, time.Time{}, false
	}
	if err := Decode(body, &v); err != nil {
		var none T
		return none, time.Time{}, false
	}
	return v, made, true
}

// Keep writes the value of a key. The error of a type that can't be kept whole
// names the field.
func Keep[T any](d Dir, key string, v T) error {
	return d.put(key, func(w io.Writer) error {
		if _, err := w.Write(layout(reflect.TypeFor[T]())); err != nil {
			return err
		}
		return Encode(w, &v)
	})
}
