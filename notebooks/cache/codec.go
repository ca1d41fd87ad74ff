package cache

import (
	"cmp"
	"crypto/sha256"
	"encoding"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"github.com/fxamacker/cbor/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// Values are kept as CBOR (RFC 8949): a nil list stays nil and an empty one
// empty, a pointer to zero is no nil pointer, NaN is NaN. (Package gob loses the
// first two, JSON the last.) Types don't travel. What stands behind an interface (a block of
// a page, the value of a cell) says by a tag which type it is.
var (
	encoder = ready(cbor.EncOptions{NaNConvert: cbor.NaNConvertNone, InfConvert: cbor.InfConvertNone}.EncModeWithTags(tags))
	decoder = ready(cbor.DecOptions{MaxArrayElements: noLimit, MaxMapPairs: noLimit, IntDec: cbor.IntDecConvertSignedOrFail, UTF8: cbor.UTF8DecodeInvalid,
		FieldNameMatching: cbor.FieldNameMatchingCaseSensitive}.DecModeWithTags(tags))
	tags = tagged(behind...)
	// behind are the types that may stand behind an interface.
	behind = []any{page.Prose{}, page.Markup{}, page.Finding{}, page.Table{}, page.Figure{}, page.Value{}, cohort.Day(0), cohort.Month(0), stats.Estimate{}}
)

const (
	noLimit  = 1<<31 - 1 // a list is bounded by the bytes of its entry
	firstTag = 1_000_000 // RFC 8949, section 9.2: numbers from 32,768 on are first come, first served
)

func tagged(types ...any) cbor.TagSet {
	set := cbor.NewTagSet()
	for i, v := range types {
		options := cbor.TagOptions{DecTag: cbor.DecTagRequired, EncTag: cbor.EncTagRequired}
		if err := set.Add(options, reflect.TypeOf(v), firstTag+uint64(i)); err != nil {
			panic(err)
		}
	}
	return set
}

func ready[M any](mode M, err error) M {
	if err != nil {
		panic(err)
	}
	return mode
}

// Encode writes v; a type of which something would be left out is an error.
func Encode[T any](w io.Writer, v *T) error {
	if err := whole(reflect.TypeFor[T](), map[reflect.Type]bool{}); err != nil {
		return err
	}
	return encodeByField(encoder.NewEncoder(w), reflect.ValueOf(v))
}

// encodeByField writes the fields of a struct one after another, as a map of no stated
// length (RFC 8949, section 3.2.2): the codec has a value whole in memory before it
// writes it, and the columns of a large book together are as large as the book's rows.
func encodeByField(e *cbor.Encoder, v reflect.Value) error {
	for v.Kind() == reflect.Pointer && !v.IsNil() && !v.Type().Implements(marshaler) {
		v = v.Elem()
	}
	t := v.Type()
	tagged := slices.ContainsFunc(behind, func(v any) bool { return reflect.TypeOf(v) == t })
	if t.Kind() != reflect.Struct || tagged || t.Implements(marshaler) || slices.ContainsFunc(reflect.VisibleFields(t), codecsOwn) {
		return e.Encode(v.Interface())
	}
	if err := e.StartIndefiniteMap(); err != nil {
		return err
	}
	for i, f := range reflect.VisibleFields(t) {
		if f.Tag.Get("cbor") == "-" {
			continue
		}
		if err := errors.Join(e.Encode(keptName(f)), encodeByField(e, v.Field(i))); err != nil {
			return err
		}
	}
	return e.EndIndefinite()
}

// codecsOwn are fields that only the codec knows how to write.
func codecsOwn(f reflect.StructField) bool {
	return f.Anonymous || len(f.Index) > 1 || strings.Contains(f.Tag.Get("cbor")+f.Tag.Get("json"), ",")
}

// keptName is the name under which the codec keeps a field.
func keptName(f reflect.StructField) string {
	name, _, _ := strings.Cut(cmp.Or(f.Tag.Get("cbor"), f.Tag.Get("json"), f.Name), ",")
	return cmp.Or(name, f.Name)
}

// Decode reads what Encode wrote. A field that the text lacks comes back empty: what
// is kept for years (a run) stays readable when a type grows.
func Decode[T any](text []byte, v *T) error { return decoder.Unmarshal(text, v) }

// layout is a hash of a type's fields, their names and types all the way down, and
// of the types that may stand behind an interface. An entry of the cache begins with
// it, and one of another layout is not read: a field that it lacks would come back
// empty among full ones.
func layout(t reflect.Type) []byte {
	h, seen := sha256.New(), map[reflect.Type]bool{}
	var lay func(t reflect.Type)
	lay = func(t reflect.Type) {
		fmt.Fprintf(h, "%s %s;", t, t.Kind())
		if seen[t] || t.Implements(marshaler) {
			return
		}
		seen[t] = true
		switch t.Kind() {
		case reflect.Map:
			lay(t.Key())
			lay(t.Elem())
		case reflect.Slice, reflect.Pointer, reflect.Array:
			lay(t.Elem())
		case reflect.Struct:
			for i := range t.NumField() {
				f := t.Field(i)
				fmt.Fprintf(h, "%s %q:", f.Name, f.Tag)
				lay(f.Type)
			}
		}
	}
	lay(t)
	for _, v := range behind {
		lay(reflect.TypeOf(v))
	}
	return h.Sum(nil)[:16]
}

// Blocks puts blocks that were read back into what they were: the codec reads
// what stands behind an interface with methods as a pointer to it.
func Blocks(list []page.Block) {
	for i, b := range list {
		if p := reflect.ValueOf(b); p.Kind() == reflect.Pointer {
			list[i] = p.Elem().Interface().(page.Block)
		}
	}
}

var marshaler = reflect.TypeFor[encoding.BinaryMarshaler]()

// whole refuses types that the codec would keep only in part: fields that are
// not exported, and fields whose JSON tag leaves them out (the codec falls back
// on JSON tags), where no cbor tag says that this is meant or that they are kept.
func whole(t reflect.Type, seen map[reflect.Type]bool) error {
	if seen[t] || t.Implements(marshaler) {
		return nil
	}
	seen[t] = true
	switch t.Kind() {
	case reflect.Map, reflect.Slice, reflect.Pointer, reflect.Array:
		if t.Kind() == reflect.Map {
			if err := whole(t.Key(), seen); err != nil {
				return err
			}
		}
		return whole(t.Elem(), seen)
	case reflect.Func, reflect.Chan, reflect.Complex64, reflect.Complex128:
		return fmt.Errorf("a %s can't be kept", t)
	case reflect.Struct:
		names := map[string]bool{}
		for _, f := range reflect.VisibleFields(t) {
			json, noTag := f.Tag.Get("json"), f.Tag.Get("cbor") == ""
			if f.Tag.Get("cbor") == "-" { // of no use to who reads
				continue
			}
			if !f.IsExported() && !f.Anonymous || noTag && (json == "-" || strings.Contains(json, ",omit")) {
				return fmt.Errorf("%s.%s can't be kept", t, f.Name)
			}
			// Of two fields with one name neither would be kept.
			name := keptName(f)
			if names[name] && !f.Anonymous && len(f.Index) == 1 {
				return fmt.Errorf("%s.%s can't be kept: another field is called %s too", t, f.Name, name)
			}
			names[name] = true
			if err := whole(f.Type, seen); err != nil {
				return err
			}
		}
	}
	return nil
}
