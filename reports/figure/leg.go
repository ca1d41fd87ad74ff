package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
	"lastroom/reports/page"
)

// A Leg shows the girths of both legs over the height of the tape.
type Leg struct {
	ID, Title, Desc string
	Unit            string // of the heights' labels: "in" or "cm"
	UnitMM          float64
	Points          []LegPoint
	Band            []LegBand // what the other numbers leave likely, by height
}

// A LegPoint is one girth.
type LegPoint struct {
	Side       form.Side
	Clothing   form.Clothing
	HeightMM   float64
	GirthMM    float64
	ExpectedMM float64
	Doubt      bool
}

// A LegBand is the likely girth at a height.
type LegBand struct{ HeightMM, Low, High float64 }

// LegChart draws a Leg, standing: height up, girth across.
func LegChart(l Leg) page.Figure {
	t := page.Table{Columns: []page.Column{{Key: "side", Title: "Side"}, {Key: "clothing", Title: "Clothing"}, {Key: "height_mm", Title: "Height", Unit: "mm", Numeric: true},
		{Key: "girth_mm", Title: "Girth", Unit: "mm", Numeric: true}, {Key: "expected_mm", Title: "Expected", Unit: "mm", Numeric: true}, {Key: "doubt", Title: "In doubt"}}}
	for _, p := range l.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(p.Side.String()), page.Text(p.Clothing.String()), page.Number(p.HeightMM, 1), page.Number(p.GirthMM, 1), page.Number(p.ExpectedMM, 1), yesNo(p.Doubt)})
	}
	if len(l.Points) == 0 {
		return nothing(l.ID, l.Title, "No leg girths on this form.", t).figure()
	}
	keys := l.keys()
	return plan{id: l.ID, title: l.Title, desc: l.Desc, data: t,
		height: func(w float64) float64 { return 300 + 18*float64(legendRows(keys, w)) },
		draw: func(s *sheet) {
			s.text(0, s.h-8, "height of the tape, "+l.Unit, soft, small, draw.XLeft)
			s.legend(keys, s.h-27)
			l.onto(s, s.h-27-18*float64(legendRows(keys, s.w)))
		},
	}.figure()
}

func (l Leg) keys() []key {
	keys := []key{keyMark("left", disc, ink), keyMark("right", square, mid)}
	for _, p := range l.Points {
		if p.Clothing == form.Tucked {
			keys = append(keys, keyLine("over trousers", ink, 1.4, dashed))
			break
		}
	}
	if len(l.Band) > 0 {
		keys = append(keys, keyBand("where the other numbers put it", wash))
	}
	for _, p := range l.Points {
		if p.Doubt {
			return append(keys, keyMark("in doubt", diamond, accent))
		}
	}
	return keys
}

func (l Leg) onto(s *sheet, top float64) {
	var gs, hs []float64
	for _, p := range l.Points {
		gs, hs = append(gs, p.GirthMM), append(hs, p.HeightMM)
	}
	for _, b := range l.Band {
		gs, hs = append(gs, b.Low, b.High), append(hs, b.HeightMM)
	}
	g0, g1 := extent(gs)
	h0, h1 := extent(hs)
	unit := l.UnitMM
	if !(unit > 0) {
		unit = 10
	}
	g0, g1, h0, h1 = g0-0.06*(g1-g0), g1+0.06*(g1-g0), h0-0.08*(h1-h0), h1+0.08*(h1-h0)
	s.area(36, 46, s.w-10, top, [2]float64{g0, g1}, [2]float64{h0, h1}, func(x, y func(float64) float64) {
		var lo, hi []float64
		for _, b := range l.Band {
			if finite(b.Low) && finite(b.High) && finite(b.HeightMM) {
				lo = append(lo, x(b.Low), y(b.HeightMM))
				hi = append([]float64{x(b.High), y(b.HeightMM)}, hi...)
			}
		}
		if len(lo) >= 4 {
			s.fill(wash, append(lo, hi...)...)
		}
		s.gridX(ticks(g0, g1, 1, ""), 46, top, x)
		s.gridY(l.heights(unit), 36, s.w-10, y)
		for _, clothing := range form.Clothings {
			l.side(s, form.Left, clothing, disc, ink, x, y)
			l.side(s, form.Right, clothing, square, mid, x, y)
		}
	})
	s.text(s.w-10, 10, "girth, mm, n "+page.Thousands(len(l.Points))+" numbers", soft, small, draw.XRight)
}

// heights are the places of the tape, each once.
func (l Leg) heights(unit float64) []tick {
	var out []tick
	for _, p := range l.Points {
		label := trimmed(p.HeightMM / unit)
		if finite(p.HeightMM) && !slices.ContainsFunc(out, func(t tick) bool { return math.Abs(t.at-p.HeightMM) < 8 }) {
			out = append(out, tick{p.HeightMM, label})
		}
	}
	return out
}

func (l Leg) side(s *sheet, side form.Side, clothing form.Clothing, m mark, t tone, x, y func(float64) float64) {
	var xy []float64
	for _, p := range l.Points {
		if p.Side == side && p.Clothing == clothing && finite(p.GirthMM) && finite(p.HeightMM) {
			xy = append(xy, x(p.GirthMM), y(p.HeightMM))
		}
	}
	var d dashes
	if clothing == form.Tucked {
		d = dashed
	}
	if len(xy) >= 4 {
		s.stroke(t, 1.6, d, xy...)
	}
	for _, p := range l.Points {
		if p.Side != side || p.Clothing != clothing || !finite(p.GirthMM) || !finite(p.HeightMM) {
			continue
		}
		if p.Doubt {
			s.mark(diamond, accent, x(p.GirthMM), y(p.HeightMM), 5)
		} else {
			s.mark(m, t, x(p.GirthMM), y(p.HeightMM), 3.8)
		}
	}
}
