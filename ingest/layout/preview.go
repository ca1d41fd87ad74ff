package layout

import (
	"context"
	"fmt"
	"sort"

	"lastroom/analysis/form"
	"lastroom/ingest/grid"
	"lastroom/ingest/lengths"
	"lastroom/ingest/sheets"
	"lastroom/ingest/wording"
)

// A Reading is a cell as it is written and what it is read as; Refused says
// why it can't be read.
type Reading struct {
	Written string `json:"written"`
	Read    string `json:"read"`
	Refused string `json:"refused,omitempty"`
}

// A View shows how a column of a shop's table is read.
type View struct {
	Where    string    `json:"where"`  // file and tab
	Letter   string    `json:"letter"` // of the column
	Header   string    `json:"header"`
	Sheet    string    `json:"sheet"`
	Column   string    `json:"column"` // of the sheet; of a number also its place
	Readings []Reading `json:"readings"`
	Cells    int       `json:"cells"`   // that hold anything
	Refused  int       `json:"refused"` // of them, that can't be read
	at       int
}

// shown is how many readings of a column a view shows.
const shown = 5

type viewKey struct{ where, sheet, column, header string }

// Preview converts files and shows how each column is read.
func (m *Mapping) Preview(ctx context.Context, files []File, dir string) (*Converted, []View, error) {
	c := newConverter(m, dir)
	c.views = map[viewKey]*View{}
	out, err := c.convert(ctx, files)
	var views []View
	for _, v := range c.views {
		views = append(views, *v)
	}
	sort.Slice(views, func(i, j int) bool {
		a, b := views[i], views[j]
		switch {
		case a.Where != b.Where:
			return a.Where < b.Where
		case a.at != b.at:
			return a.at < b.at
		case a.Sheet != b.Sheet:
			return a.Sheet < b.Sheet
		}
		return a.Column < b.Column
	})
	return out, views, err
}

// see notes a reading of a cell.
func (r *rows) see(s *sheets.Sheet, column, place string, at int, written, read string, unit form.Unit) {
	if r.c.views == nil || r.broken != "" || at < 0 || written == "" {
		return
	}
	key := viewKey{r.grid.Where(), s.Name, column + place, r.head.Paths[at]}
	v := r.c.views[key]
	if v == nil {
		v = &View{Where: key.where, Letter: grid.ColumnName(at), Header: r.head.Paths[at], Sheet: s.Name, Column: column, at: at}
		if place != "" {
			v.Column = place
		}
		r.c.views[key] = v
	}
	v.Cells++
	c, _ := s.Column(column)
	one := Reading{Written: written, Read: read}
	if read != "" {
		value, err := c.Parse(read, unit, lengths.Options{DecimalComma: r.t.Decimal != wording.Point || !r.t.decimalSaid && r.grid.Sep != ','})
		if err != nil {
			one.Refused = err.Error()
			v.Refused++
		} else if c.Kind == sheets.Length {
			one.Read = fmt.Sprintf("%.1f mm", value.Number)
		}
	}
	for _, old := range v.Readings {
		if old.Written == written {
			return
		}
	}
	if len(v.Readings) < shown {
		v.Readings = append(v.Readings, one)
	} else if one.Refused != "" && v.Refused == 1 {
		v.Readings[shown-1] = one // what can't be read is worth seeing
	}
}
