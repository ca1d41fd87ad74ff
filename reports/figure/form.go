package figure

import (
	"math"

	"lastroom/reports/page"
)

// FormNumbers shows one form's numbers, each between the ends that all the
// other numbers and the published range leave for it.
type FormNumbers struct {
	ID, Title, Desc string
	Rows            []FormNumber
}

// A FormNumber is one number of a form. P1 and P99 are the published range,
// Low and High what the other numbers of the form leave likely; NaN: not
// given.
type FormNumber struct {
	Label               string
	Written             string
	MM                  float64
	Expected, Low, High float64
	P1, P99             float64
	Doubt               bool
}

// FormChart draws FormNumbers.
func FormChart(v FormNumbers) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "number", Title: "Number"}, {Key: "written", Title: "As written"},
		{Key: "value_mm", Title: "Value", Unit: "mm", Numeric: true}, {Key: "expected_mm", Title: "Expected", Unit: "mm", Numeric: true},
		{Key: "low_mm", Title: "From", Unit: "mm", Numeric: true}, {Key: "high_mm", Title: "To", Unit: "mm", Numeric: true}, {Key: "doubt", Title: "In doubt"}}}
	r := rows{id: v.ID, title: v.Title, desc: v.Desc, lo: 0, hi: 1, zero: math.NaN(), axis: "each row has a scale of its own",
		right: "written · expected, mm", keys: []key{keyBand("people, 1st to 99th percentile", wash),
			keyLine("where the form's other numbers put it", ink, 2, nil), keyMark("as written", disc, ink), keyMark("in doubt", diamond, accent)}}
	for _, n := range v.Rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(n.Label), page.Text(n.Written), page.Number(n.MM, 1), page.Number(n.Expected, 1), page.Number(n.Low, 1), page.Number(n.High, 1), yesNo(n.Doubt)})
		r.rows = append(r.rows, n.row())
	}
	if len(v.Rows) == 0 {
		return nothing(v.ID, v.Title, "No numbers on this form.", t).figure()
	}
	r.data = t
	return r.figure()
}

func (n FormNumber) row() row {
	out := row{label: n.Label, right: n.Written}
	if finite(n.Expected) {
		out.right += " · " + page.Fixed(n.Expected, 0)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range []float64{n.MM, n.Low, n.High, n.P1, n.P99} {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	if lo > hi {
		out.words = "no number"
		return out
	}
	pad := math.Max(0.1*(hi-lo), 1)
	out.draw = func(s *sheet, x func(float64) float64, y float64) {
		at := func(v float64) float64 { return x((v - lo + pad) / (hi - lo + 2*pad)) }
		if finite(n.P1) && finite(n.P99) {
			s.box(wash, at(n.P1), y-10, at(n.P99), y+10)
		}
		if finite(n.Low) && finite(n.High) {
			s.interval(ink, 2, at(n.Low), at(n.High), x(0), x(1), y)
		}
		if !finite(n.MM) {
			return
		}
		if n.Doubt {
			s.mark(diamond, accent, at(n.MM), y, 5)
		} else {
			s.mark(disc, ink, at(n.MM), y, 4)
		}
	}
	return out
}
