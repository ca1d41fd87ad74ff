package figure

import (
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
	"lastroom/reports/figure/svg"
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
// said) on a side. Zones of the shop's own (not in the catalogue) are listed
// too.
type ZoneCount struct {
	Zone      form.Zone
	Direction string
	Side      string // "left", "right", "both" or "", not said
	Count     int
	Orders    []string
}

type zoneRow struct {
	zone                form.Zone
	close, wide, unsaid int // tight or short, loose or long, other
	total               int
}

// ZoneChart draws a boot with its zones shaded by their complaints, or a pair
// where complaints name a side, and beside it bars: tight or short to the left,
// loose or long to the right.
func ZoneChart(z Zones) page.Figure {
	data := zoneTable(z)
	zr := zoneRows(z)
	most, left, right, unsided := 0, map[form.Zone]int{}, map[form.Zone]int{}, 0
	for _, c := range z.Counts {
		if c.Side != "right" {
			left[c.Zone] += c.Count
		}
		if c.Side != "left" {
			right[c.Zone] += c.Count
		}
		if c.Side == "" {
			unsided += c.Count
		}
	}
	all := map[form.Zone]int{}
	total := 0
	for _, r := range zr {
		all[r.zone] = r.total
		total += r.total
		most = max(most, r.total)
	}
	if most == 0 {
		return svg.Nothing(z.ID, z.Title, "No remake names a zone yet: nothing to draw.", data).Figure()
	}
	pair := unsided < total
	if pair {
		most = 0
		for _, n := range []map[form.Zone]int{left, right} {
			for zone := range n {
				if zone != "" {
					most = max(most, n[zone])
				}
			}
		}
	}
	shades := ramp{most}
	bars := 28*vg.Length(len(zr)) + 26
	size := func(w vg.Length) (k, boots vg.Length) {
		switch {
		case pair && svg.Narrow(w):
			k = 0.72
		case pair:
			k = 0.68
		case svg.Narrow(w):
			k = 0.8
		default:
			k = 0.95
		}
		if pair {
			return k, 2*bootWidth*k + 6
		}
		return k, bootWidth * k
	}
	return svg.Plan{ID: z.ID, Title: z.Title, Desc: z.Desc, Data: data, Keys: append(shades.keys(), z.barKeys()...), Foot: z.foot(pair, unsided),
		Height: func(w vg.Length) vg.Length {
			k, _ := size(w)
			if svg.Narrow(w) {
				return bootHeight*k + 12 + bars
			}
			return max(bars, bootHeight*k+10)
		},
		Draw: func(c draw.Canvas) {
			w := c.Max.X - c.Min.X
			k, boots := size(w)
			at, beside := c, draw.Crop(c, boots+20, 0, 0, 0)
			at.Min.Y += (c.Max.Y - c.Min.Y - bootHeight*k) / 2
			if svg.Narrow(w) {
				at.Min.X += (w - boots) / 2
				at.Min.Y = c.Max.Y - bootHeight*k
				beside = draw.Crop(c, 0, 0, 0, -bootHeight*k-12)
			}
			if pair {
				drawBoot(at, "left", left, shades, true, k)
				at.Min.X += bootWidth*k + 6
				drawBoot(at, "right", right, shades, false, k)
			} else {
				drawBoot(at, "", all, shades, false, k)
			}
			zoneBars(zr).Draw(beside)
		},
	}.Figure()
}

func (z Zones) barKeys() []svg.Key {
	keys := []svg.Key{{Label: "tight or short", Thumb: zoneClose(nil)}, {Label: "loose or long", Thumb: zoneWide(nil)}}
	if slices.ContainsFunc(z.Counts, func(c ZoneCount) bool { return c.Count > 0 && !tooClose(c.Direction) && !tooWide(c.Direction) }) {
		keys = append(keys, svg.Key{Label: "direction not said", Thumb: zoneUnsaid(nil)})
	}
	return keys
}

func (z Zones) foot(pair bool, unsided int) string {
	s := "n " + page.Thousands(z.N) + " with a zone"
	if z.NotNamed > 0 {
		s += ", " + page.Thousands(z.NotNamed) + " without"
	}
	if pair && unsided > 0 {
		s += "; " + page.Thousands(unsided) + " name no side"
	}
	return s
}

func tooClose(direction string) bool { return direction == "tight" || direction == "short" }
func tooWide(direction string) bool  { return direction == "loose" || direction == "long" }

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
		switch {
		case tooClose(c.Direction):
			out[i].close += c.Count
		case tooWide(c.Direction):
			out[i].wide += c.Count
		default:
			out[i].unsaid += c.Count
		}
	}
	return out
}

// The bars go left for what is too close (negative values), right for the rest.
func zoneClose(v plotter.Values) *plotter.BarChart { return zoneBar(v, svg.Accent, draw.LineStyle{}) }
func zoneWide(v plotter.Values) *plotter.BarChart {
	return zoneBar(v, svg.Awash, svg.Stroke(svg.Ink, 1.2, nil))
}
func zoneUnsaid(v plotter.Values) *plotter.BarChart {
	return zoneBar(v, svg.Line, draw.LineStyle{})
}

func zoneBar(v plotter.Values, t svg.Tone, edge draw.LineStyle) *plotter.BarChart {
	return &plotter.BarChart{Values: v, Width: 15, Color: t, LineStyle: edge, Horizontal: true}
}

func zoneBars(zr []zoneRow) *plot.Plot {
	p := svg.NewPlot()
	p.Y.Min, p.Y.Max = -0.5, float64(len(zr))-0.5
	p.Y.Scale = plot.InvertedScale{Normalizer: plot.LinearScale{}}
	p.Y.Tick.Label = svg.Lettering(svg.Normal, svg.Ink, svg.AlignRight, draw.YCenter)
	var zones plot.ConstantTicks
	var near, wide, unsaid plotter.Values
	total := &svg.Labels{}
	for i, r := range zr {
		zones = append(zones, plot.Tick{Value: float64(i), Label: svg.Fit(string(r.zone), svg.Normal, 70)})
		near, wide, unsaid = append(near, -float64(r.close)), append(wide, float64(r.wide)), append(unsaid, float64(r.unsaid))
	}
	right := zoneUnsaid(unsaid)
	right.StackOn(zoneWide(wide))
	p.Add(zoneClose(near), zoneWide(wide), right)
	for i, r := range zr {
		total.Add(p.X.Max, float64(i), page.Thousands(r.total), svg.Lettering(svg.Normal, svg.Ink, svg.AlignRight, svg.AlignMiddle))
	}
	total.Offset.X = 34
	p.Y.Tick.Marker = zones
	p.X.Tick.Marker = plot.TickerFunc(func(lo, hi float64) []plot.Tick {
		ts := svg.Rounds{Scale: 1}.Ticks(lo, hi)
		for i := range ts {
			ts[i].Label = strings.TrimPrefix(ts[i].Label, "−")
		}
		return ts
	})
	p.Add(&plotter.Line{XYs: plotter.XYs{{Y: p.Y.Min}, {Y: p.Y.Max}}, LineStyle: svg.Stroke(svg.Ink, 1.2, nil)}, total)
	return p
}

func zoneTable(z Zones) page.Table {
	t := page.Table{Columns: []page.Column{
		{Key: "zone", Title: "Zone"}, {Key: "direction", Title: "Direction"}, {Key: "side", Title: "Side"}, {Key: "complaints", Title: "Complaints", Numeric: true},
	}}
	for _, c := range z.Counts {
		if c.Zone == "" || c.Count == 0 {
			continue
		}
		d := page.Text(c.Direction)
		if c.Direction == "" {
			d.Text = "not said"
		}
		side := page.Text(c.Side)
		if c.Side == "" {
			side.Text = "not said"
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(string(c.Zone)), d, side, page.CountOf(c.Count, page.Ref{Kind: "orders", IDs: c.Orders})})
	}
	if z.NotNamed > 0 {
		t.Notes = append(t.Notes, page.Counted(z.NotNamed, "remake names", "remakes name")+" no zone.")
	}
	return t
}
