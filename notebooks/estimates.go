package notebooks

import (
	"reflect"
	"strings"

	"lastroom/analysis/stats"
)

var estimateType = reflect.TypeFor[stats.Estimate]()

// eachField visits the fields of a struct, those of embedded structs too, with
// their names in JSON.
func eachField(v any, visit func(name string, f reflect.Value)) {
	s := reflect.ValueOf(v)
	for i := range s.NumField() {
		t := s.Type().Field(i)
		if t.Anonymous {
			eachField(s.Field(i).Interface(), visit)
			continue
		}
		name, _, _ := strings.Cut(t.Tag.Get("json"), ",")
		if name != "" && name != "-" {
			visit(name, s.Field(i))
		}
	}
}

// rowsOfFindings is a table of findings, one a row: words and counts as they
// are, each estimate in four columns.
func rowsOfFindings[T any](list []T) Rows {
	var r Rows
	var zero T
	eachField(zero, func(name string, f reflect.Value) {
		switch {
		case f.Type() == estimateType:
			r.Columns = append(r.Columns, Col{name, Number}, Col{name + "_low", Number}, Col{name + "_high", Number}, Col{name + "_n", Integer})
		case f.Kind() == reflect.Int:
			r.Columns = append(r.Columns, Col{name, Integer})
		case f.Kind() == reflect.String:
			r.Columns = append(r.Columns, Col{name, Text})
		}
	})
	for _, one := range list {
		var row []any
		eachField(one, func(_ string, f reflect.Value) {
			switch {
			case f.Type() == estimateType:
				e := f.Interface().(stats.Estimate)
				row = append(row, number(e.Point), number(e.Low), number(e.High), int64(e.N))
			case f.Kind() == reflect.Int:
				row = append(row, f.Int())
			case f.Kind() == reflect.String:
				row = append(row, f.String())
			}
		})
		r.Data = append(r.Data, row)
	}
	return r
}
