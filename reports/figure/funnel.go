package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg/draw"

	"lastroom/reports/page"
)

// A Funnel shows a share against the number it rests on, within exact limits:
// small numbers may stray far without meaning anything.
type Funnel struct {
	ID, Title, Desc string
	Y, X            string
	Centre          float64
	Limits          []FunnelLimit // in the order of N
	Points          []FunnelPoint
}

// A FunnelLimit is the pair of limits at a number.
type FunnelLimit struct {
	N                              float64
	Low95, High95, Low998, High998 float64
}

// A FunnelPoint is one measurer (or region, or dealer).
type FunnelPoint struct {
	Label   string
	N       int
	Events  int
	Share   float64
	Outside bool // beyond the outer limits
}

// FunnelChart draws a Funnel. Only points outside are named in the drawing;
// the table names all.
func FunnelChart(f Funnel) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "name", Title: "Name"}, {Key: "orders", Title: "Orders", Numeric: true}, {Key: "events", Title: "Remade", Numeric: true},
		{Key: "share", Title: "Share", Unit: "%", Numeric: true}, {Key: "outside", Title: "Outside the outer limits"}}}
	for _, p := range f.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(p.Label), page.Count(p.N), page.Count(p.Events), percent(p.Share), yesNo(p.Outside)})
	}
	if len(f.Points) == 0 {
		return nothing(f.ID, f.Title, "Nobody has enough orders to be shown here yet.", t).figure()
	}
	keys := []key{keyMark("one", disc, ink), keyMark("outside the outer limits", diamond, accent), keyLine("95 % limits", mid, 1.3, dashed), keyLine("99.8 % limits", ink, 1.3, nil)}
	return plan{id: f.ID, title: f.Title, desc: f.Desc, data: t,
		height: func(w float64) float64 { return 280 + 18*float64(legendRows(keys, w)) },
		draw: func(s *sheet) {
			s.text(0, s.h-8, f.Y, soft, small, draw.XLeft)
			s.legend(keys, s.h-27)
			f.onto(s, s.h-27-18*float64(legendRows(keys, s.w)))
		},
	}.figure()
}

func (f Funnel) onto(s *sheet, top float64) {
	hi, most := 0.02, 1.0
	for _, p := range f.Points {
		most = math.Max(most, float64(p.N))
		if finite(p.Share) {
			hi = math.Max(hi, p.Share)
		}
	}
	var n []float64
	limits := [4][]float64{}
	for _, l := range f.Limits {
		n = append(n, l.N)
		for k, v := range []float64{l.Low95, l.High95, l.Low998, l.High998} {
			limits[k] = append(limits[k], math.Min(v, 1))
		}
	}
	if finite(f.Centre) {
		hi = math.Max(hi, 3*f.Centre)
	}
	hi, most = math.Min(hi*1.15, 1), most*1.04
	s.area(34, 46, s.w-8, top, [2]float64{0, most}, [2]float64{0, hi}, func(x, y func(float64) float64) {
		s.gridY(ticks(0, hi, 100, ""), 34, s.w-8, y)
		s.gridX(ticks(0, most, 1, ""), 46, 42, x)
		if finite(f.Centre) {
			s.stroke(mid, 1.2, dotted, x(0), y(f.Centre), x(most), y(f.Centre))
		}
		for k := range limits {
			cut := within(limits[k], n, hi, most)
			if k < 2 {
				s.runs(n, cut, mid, 1.3, dashed, x, y)
			} else {
				s.runs(n, cut, ink, 1.3, nil, x, y)
			}
		}
		f.points(s, x, y)
	})
	s.text(s.w-8, 10, f.X, soft, small, draw.XRight)
}

// within blanks what lies beyond the drawing.
func within(v, n []float64, hi, most float64) []float64 {
	out := slices.Clone(v)
	for i := range out {
		if out[i] > hi || n[i] > most {
			out[i] = math.NaN()
		}
	}
	return out
}

func (f Funnel) points(s *sheet, x, y func(float64) float64) {
	var taken [][4]float64
	for _, p := range f.Points {
		if !finite(p.Share) {
			continue
		}
		px, py := x(float64(p.N)), y(p.Share)
		if !p.Outside {
			s.mark(disc, ink, px, py, 3.6)
			continue
		}
		s.mark(diamond, accent, px, py, 4.5)
		taken = s.named(p.Label, px, py, taken)
	}
}

// named writes a label beside a point where it covers no other label; where it
// would, the table has to do.
func (s *sheet) named(label string, x, y float64, taken [][4]float64) [][4]float64 {
	label = fit(label, small, 120)
	w := textWidth(label, small)
	for _, left := range []float64{x + 9, x - 9 - w} {
		b := [4]float64{left, y - 7, left + w, y + 7}
		if left < 0 || b[2] > s.w || slices.ContainsFunc(taken, func(o [4]float64) bool {
			return b[0] < o[2] && o[0] < b[2] && b[1] < o[3] && o[1] < b[3]
		}) {
			continue
		}
		s.text(left, y, label, ink, small, draw.XLeft)
		return append(taken, b)
	}
	return taken
}
