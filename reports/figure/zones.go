package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
	"lastroom/reports/page"
)

// Zones are complaints counted by zone of the boot and direction.
type Zones struct {
	ID, Title, Desc string
	Counts          []ZoneCount
	N               int // complaints with a zone
	NotNamed        int // remakes without one
}

// A ZoneCount is one cell: complaints of a zone in a direction ("" is not
// said). Zones of the shop's own (not in the catalogue) are listed too.
type ZoneCount struct {
	Zone      form.Zone
	Direction string
	Count     int
	Orders    []string
}

type zoneRow struct {
	zone                form.Zone
	close, wide, unsaid int // tight or short, loose or long, other
	total               int
}

// ZoneChart draws a boot with its zones tinted by their complaints and, beside
// it, bars: tight or short to the left, loose or long to the right.
func ZoneChart(z Zones) page.Figure {
	data := zoneTable(z)
	zr := zoneRows(z)
	most := 0
	for _, r := range zr {
		most = max(most, r.total)
	}
	if most == 0 {
		return nothing(z.ID, z.Title, "No remake names a zone yet: nothing to draw.", data).figure()
	}
	p := plan{id: z.ID, title: z.Title, desc: z.Desc, data: data,
		height: func(w float64) float64 {
			bars := 30*float64(len(zr)) + 62
			if w < 500 {
				return bars + bootHeight*0.8 + 12
			}
			return math.Max(bars, bootHeight+16)
		},
		draw: func(s *sheet) {
			if s.narrow() {
				s.boot(zr, most, (s.w-bootWidth*0.8)/2, s.h-bootHeight*0.8-4, 0.8)
				s.zoneBars(z, zr, most, 0, s.h-bootHeight*0.8-16)
				return
			}
			s.boot(zr, most, 0, (s.h-bootHeight)/2, 1)
			s.zoneBars(z, zr, most, bootWidth+30, s.h)
		},
	}
	return p.figure()
}

// zoneRows sums the counts by zone, toe to top, the shop's own zones last.
func zoneRows(z Zones) []zoneRow {
	var out []zoneRow
	for _, zone := range form.Zones {
		out = append(out, zoneRow{zone: zone})
	}
	for _, c := range z.Counts {
		if c.Zone == "" {
			continue
		}
		i := slices.IndexFunc(out, func(r zoneRow) bool { return r.zone == c.Zone })
		if i < 0 {
			out = append(out, zoneRow{zone: c.Zone})
			i = len(out) - 1
		}
		out[i].total += c.Count
		switch c.Direction {
		case "tight", "short":
			out[i].close += c.Count
		case "loose", "long":
			out[i].wide += c.Count
		default:
			out[i].unsaid += c.Count
		}
	}
	return out
}

// zoneBars draws the bars between left and the sheet's right end.
func (s *sheet) zoneBars(z Zones, zr []zoneRow, most int, left, top float64) {
	const label = 62.0
	width := s.w - left - label - 58
	side := func(f func(zoneRow) int) (n int) {
		for _, r := range zr {
			n = max(n, f(r))
		}
		return n
	}
	closest := side(func(r zoneRow) int { return r.close })
	widest := side(func(r zoneRow) int { return r.wide + r.unsaid })
	unit := width / float64(max(1, closest+widest))
	mid0 := left + label + unit*float64(closest)
	s.text(mid0-8, top-12, "tight or short", soft, small, draw.XRight)
	s.text(mid0+8, top-12, fit("loose or long", small, s.w-mid0-8), soft, small, draw.XLeft)
	y := top - 38
	for _, r := range zr {
		s.text(left, y, fit(string(r.zone), normal, label-8), ink, normal, draw.XLeft)
		a, b := mid0-unit*float64(r.close), mid0+unit*float64(r.wide)
		s.box(accent, a, y-8, mid0, y+8)
		s.frame(ink, mid0, y-8, b, y+8)
		if r.unsaid > 0 {
			s.box(line, b, y-8, b+unit*float64(r.unsaid), y+8)
		}
		s.text(s.w, y, page.Thousands(r.total), ink, normal, draw.XRight)
		y -= 30
	}
	s.stroke(ink, 1.2, nil, mid0, top-24, mid0, y+16)
	s.text(left, y+2, fit(zoneNote(z, zr), small, s.w-left), soft, small, draw.XLeft)
}

func zoneNote(z Zones, zr []zoneRow) string {
	s := "n " + page.Thousands(z.N) + " with a zone"
	if z.NotNamed > 0 {
		s += ", " + page.Thousands(z.NotNamed) + " without"
	}
	if slices.ContainsFunc(zr, func(r zoneRow) bool { return r.unsaid > 0 }) {
		s += "; grey: direction not said"
	}
	return s
}

// frame is an empty bar: the other direction, told apart without colour.
func (s *sheet) frame(t tone, x0, y0, x1, y1 float64) {
	if x1-x0 < 0.5 {
		return
	}
	s.box(awash, x0, y0, x1, y1)
	s.stroke(t, 1.2, nil, x0, y0, x1, y0, x1, y1, x0, y1, x0, y0)
}

func zoneTable(z Zones) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "zone", Title: "Zone"}, {Key: "direction", Title: "Direction"}, {Key: "complaints", Title: "Complaints", Numeric: true},
	}}
	for _, c := range z.Counts {
		if c.Zone == "" || c.Count == 0 {
			continue
		}
		d := page.Text(c.Direction)
		if c.Direction == "" {
			d.Text = "not said"
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(string(c.Zone)), d, page.CountOf(c.Count, page.Ref{Kind: "orders", IDs: c.Orders})})
	}
	if z.NotNamed > 0 {
		t.Notes = append(t.Notes, page.Thousands(z.NotNamed)+" remakes name no zone.")
	}
	return t
}
