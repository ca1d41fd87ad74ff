package main

import (
	"encoding/json"
	"fmt"
	"io"
	"reflect"

	"lastroom/notebooks"
	"lastroom/reports/page"
)

// print writes a finding in the asked format: the value itself as JSON, or its
// page as text, or the page's main table as CSV. Only the document goes to
// standard output.
func (a *app) print(format string, value any, d *page.Document) error {
	a.progress.done()
	switch format {
	case "json":
		return writeJSON(a.stdout, value)
	case "csv":
		t := page.Tables(d)
		if len(t) == 0 {
			return nil
		}
		return page.CSV(a.stdout, &t[0])
	}
	return page.WriteText(a.stdout, a.language.Document(d), page.TextOptions{Width: width(a.stdout), Bold: isTerminal(a.stdout), Say: a.language.Text})
}

// tellBeyond says of an as-of day after the newest of the book what that leaves out: at
// the head of the page, on standard error where only figures are printed.
func (a *app) tellBeyond(format string, d *page.Document, f notebooks.Facts) {
	switch words := f.Beyond(); {
	case words == "":
	case format == "csv" || format == "json":
		a.progress.done()
		fmt.Fprintln(a.stderr, a.language.Text(words))
	default:
		d.Lead += " " + words
	}
}

// writeJSON writes a value with its empty lists as [], never null: a list that
// was kept in the cache comes back the same as a fresh one.
func writeJSON(w io.Writer, value any) error {
	v := reflect.New(reflect.TypeOf(value))
	v.Elem().Set(reflect.ValueOf(value))
	fillLists(v.Elem())
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(v.Interface())
}

// fillLists makes every nil slice under v an empty one.
func fillLists(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			fillLists(v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); f.CanSet() {
				fillLists(f)
			}
		}
	case reflect.Slice:
		if v.IsNil() && v.CanSet() {
			v.Set(reflect.MakeSlice(v.Type(), 0, 0))
		}
		for i := range v.Len() {
			fillLists(v.Index(i))
		}
	}
}
