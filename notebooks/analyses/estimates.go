package analyses

import (
	"reflect"
	"strings"

	"lastroom/analysis/frame"
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

// frameOf is a table of findings, one a row: words and counts as they are, each
// estimate in four columns.
func frameOf[T any](list []T) (frame.Frame, error) {
	var columns []frame.Column
	var zero T
	eachField(zero, func(name string, f reflect.Value) {
		switch {
		case f.Type() == estimateType:
			columns = append(columns, frame.Column{Name: name, Kind: frame.Real}, frame.Column{Name: name + "_low", Kind: frame.Real},
				frame.Column{Name: name + "_high", Kind: frame.Real}, frame.Column{Name: name + "_n", Kind: frame.Integer})
		case f.Kind() == reflect.Int:
			columns = append(columns, frame.Column{Name: name, Kind: frame.Integer})
		case f.Kind() == reflect.String:
			columns = append(columns, frame.Column{Name: name, Kind: frame.Text})
		}
	})
	b := frame.NewBuilder(columns)
	for _, one := range list {
		var row []any
		eachField(one, func(_ string, f reflect.Value) {
			switch {
			case f.Type() == estimateType:
				e := f.Interface().(stats.Estimate)
				row = append(row, e.Point, e.Low, e.High, e.N)
			case f.Kind() == reflect.Int:
				row = append(row, f.Int())
			case f.Kind() == reflect.String:
				row = append(row, f.String())
			}
		})
		if err := b.Add(row); err != nil {
			return frame.Frame{}, err
		}
	}
	return b.Frame()
}
