package cache

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"unsafe"
)

// A value is kept field by field, exactly: a nil list stays nil and an empty
// one empty, a pointer to zero is no nil pointer, NaN is NaN. (Package gob
// loses the first two, JSON the last.) Types don't travel: who reads must be
// the program that wrote, which the key sees to.

var errShort = errors.New("the entry ends too early")

// A packer writes values; what goes wrong with the writer shows in its Flush.
type packer struct{ *bufio.Writer }

// pack writes v. Fields that are not exported, functions and filled interfaces
// can't be kept and are an error.
func (p packer) pack(v reflect.Value) error {
	switch v.Kind() {
	case reflect.Bool:
		p.WriteByte(flag(v.Bool()))
		return nil
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		p.Write(binary.AppendVarint(p.AvailableBuffer(), v.Int()))
		return nil
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		p.count(v.Uint())
		return nil
	case reflect.Float32, reflect.Float64:
		p.Write(binary.BigEndian.AppendUint64(p.AvailableBuffer(), math.Float64bits(v.Float())))
		return nil
	case reflect.String:
		p.count(uint64(v.Len()))
		p.WriteString(v.String())
		return nil
	case reflect.Pointer, reflect.Slice, reflect.Map:
		p.WriteByte(flag(!v.IsNil()))
		if v.IsNil() {
			return nil
		}
		return p.packHeld(v)
	case reflect.Array:
		return p.packAll(v.Len(), v.Index)
	case reflect.Struct:
		for i := range v.NumField() {
			if !v.Type().Field(i).IsExported() {
				return fmt.Errorf("%s.%s can't be kept", v.Type(), v.Type().Field(i).Name)
			}
		}
		return p.packAll(v.NumField(), v.Field)
	case reflect.Func, reflect.Interface:
		if v.IsNil() {
			return nil
		}
	}
	return fmt.Errorf("a %s can't be kept", v.Type())
}

func (p packer) count(n uint64) { p.Write(binary.AppendUvarint(p.AvailableBuffer(), n)) }

// packHeld writes what a pointer, list or map holds.
func (p packer) packHeld(v reflect.Value) error {
	if v.Kind() == reflect.Pointer {
		return p.pack(v.Elem())
	}
	p.count(uint64(v.Len()))
	switch {
	case v.Kind() == reflect.Map:
		for it := v.MapRange(); it.Next(); {
			if err := errors.Join(p.pack(it.Key()), p.pack(it.Value())); err != nil {
				return err
			}
		}
		return nil
	case plain(v.Type().Elem()):
		p.Write(memory(v))
		return nil
	}
	return p.packAll(v.Len(), v.Index)
}

func (p packer) packAll(n int, at func(int) reflect.Value) error {
	for i := range n {
		if err := p.pack(at(i)); err != nil {
			return err
		}
	}
	return nil
}

func flag(yes bool) byte {
	if yes {
		return 1
	}
	return 0
}

// unpack reads into v what pack wrote of its type, and gives the rest of b.
func unpack(b []byte, v reflect.Value) (_ []byte, err error) {
	switch v.Kind() {
	case reflect.Bool:
		yes, b, err := unpackFlag(b)
		v.SetBool(yes)
		return b, err
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		x, n := binary.Varint(b)
		if n <= 0 {
			return nil, errShort
		}
		v.SetInt(x)
		return b[n:], nil
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		x, n := binary.Uvarint(b)
		if n <= 0 {
			return nil, errShort
		}
		v.SetUint(x)
		return b[n:], nil
	case reflect.Float32, reflect.Float64:
		if len(b) < 8 {
			return nil, errShort
		}
		v.SetFloat(math.Float64frombits(binary.BigEndian.Uint64(b)))
		return b[8:], nil
	case reflect.String:
		n, b, err := unpackLen(b)
		if err != nil {
			return nil, err
		}
		v.SetString(string(b[:n]))
		return b[n:], nil
	case reflect.Array:
		return unpackAll(b, v.Len(), v.Index)
	case reflect.Struct:
		return unpackAll(b, v.NumField(), v.Field)
	case reflect.Pointer, reflect.Slice, reflect.Map:
		there, b, err := unpackFlag(b)
		if err != nil || !there {
			return b, err
		}
		return unpackHeld(b, v)
	case reflect.Func, reflect.Interface:
		return b, nil
	}
	return nil, fmt.Errorf("a %s can't be kept", v.Type())
}

// unpackHeld reads what a pointer, list or map holds.
func unpackHeld(b []byte, v reflect.Value) ([]byte, error) {
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		return unpack(b, v.Elem())
	}
	n, b, err := unpackLen(b)
	if err != nil {
		return nil, err
	}
	if v.Kind() == reflect.Slice {
		return unpackSlice(b, n, v)
	}
	v.Set(reflect.MakeMapWithSize(v.Type(), n))
	for range n {
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		if b, err = unpack(b, key); err != nil {
			return nil, err
		}
		if b, err = unpack(b, value); err != nil {
			return nil, err
		}
		v.SetMapIndex(key, value)
	}
	return b, nil
}

func unpackSlice(b []byte, n int, v reflect.Value) ([]byte, error) {
	if plain(v.Type().Elem()) {
		if size := int(v.Type().Elem().Size()); n > len(b)/size {
			return nil, errShort
		}
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		return b[copy(memory(v), b):], nil
	}
	v.Set(reflect.MakeSlice(v.Type(), n, n))
	return unpackAll(b, n, v.Index)
}

// plain reports whether a list of such elements is kept as it lies in memory:
// columns of numbers are long, and no other machine reads an entry. (Not so
// truth values: a byte that is neither 0 nor 1 must never become one.)
func plain(elem reflect.Type) bool {
	switch elem.Kind() {
	case reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64,
		reflect.Float32, reflect.Float64:
		return true
	}
	return false
}

// memory is where the elements of a list of plain elements lie.
func memory(v reflect.Value) []byte {
	return unsafe.Slice((*byte)(v.UnsafePointer()), v.Len()*int(v.Type().Elem().Size()))
}

func unpackAll(b []byte, n int, at func(int) reflect.Value) (_ []byte, err error) {
	for i := range n {
		if b, err = unpack(b, at(i)); err != nil {
			return nil, err
		}
	}
	return b, nil
}

func unpackFlag(b []byte) (bool, []byte, error) {
	if len(b) == 0 {
		return false, nil, errShort
	}
	return b[0] == 1, b[1:], nil
}

// unpackLen reads a length; no list is longer than the bytes that are left,
// since each of its elements takes at least one.
func unpackLen(b []byte) (int, []byte, error) {
	n, k := binary.Uvarint(b)
	if k <= 0 || n > uint64(len(b)-k) {
		return 0, nil, errShort
	}
	return int(n), b[k:], nil
}
