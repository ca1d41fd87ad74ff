package figure

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
	"lastroom/reports/page"
)

// The boot is this project's own schematic, seen from its outer side, toe to
// the right, in a space of bootWidth by bootHeight.
const (
	bootWidth  = 236.0
	bootHeight = 268.0
)

// bootParts are the zones of the boot as closed outlines; the numbers are
// written at the last point of each.
var bootParts = []struct {
	zone form.Zone
	xy   []float64
	at   [2]float64
}{
	{form.ZoneTop, []float64{62, 262, 138, 262, 137, 226, 61, 226}, [2]float64{99, 244}},
	{form.ZoneCalf, []float64{61, 226, 137, 226, 133, 178, 128, 148, 66, 148, 62, 180}, [2]float64{98, 187}},
	{form.ZoneAnkle, []float64{66, 148, 128, 148, 130, 128, 134, 108, 66, 96, 67, 122}, [2]float64{98, 124}},
	{form.ZoneHeel, []float64{66, 96, 96, 101, 100, 44, 60, 44, 58, 64}, [2]float64{80, 70}},
	{form.ZoneInstep, []float64{96, 101, 134, 108, 146, 96, 166, 82, 160, 44, 100, 44}, [2]float64{130, 72}},
	{form.ZoneBall, []float64{166, 82, 190, 75, 192, 44, 160, 44}, [2]float64{177, 60}},
	{form.ZoneToe, []float64{190, 75, 212, 68, 226, 58, 230, 48, 226, 44, 192, 44}, [2]float64{208, 55}},
}

// boot draws the boot with its lower left corner at x, y: each zone tinted by
// its share of the largest, with its name's number; length is a line under the
// sole.
func (s *sheet) boot(zr []zoneRow, most int, x, y, k float64) {
	count := map[form.Zone]int{}
	for _, r := range zr {
		count[r.zone] = r.total
	}
	for _, p := range bootParts {
		s.bootPart(p.xy, tint(count[p.zone], most), x, y, k)
	}
	s.sole(x, y, k)
	for _, p := range bootParts {
		t := ink
		if tint(count[p.zone], most) == accent {
			t = paper
		}
		s.bold(x+p.at[0]*k, y+p.at[1]*k, page.Thousands(count[p.zone]), t, normal, draw.XCenter)
	}
	ly := y + 9*k
	s.stroke(ink, 1.2, nil, x+60*k, ly, x+230*k, ly)
	s.stroke(ink, 1.2, nil, x+60*k, ly-4, x+60*k, ly+4)
	s.stroke(ink, 1.2, nil, x+230*k, ly-4, x+230*k, ly+4)
	label := "length " + page.Thousands(count[form.ZoneLength])
	half := textWidth(label, normal)/2 + 4
	s.box(paper, x+145*k-half, ly-8, x+145*k+half, ly+8)
	s.bold(x+145*k, ly, label, ink, normal, draw.XCenter)
}

// tint is a step of the ramp from paper to accent, darker with more (in dark
// mode lighter), apart in greyscale too.
func tint(n, most int) tone {
	switch {
	case n == 0:
		return paper
	case 3*n <= most:
		return wash
	case 3*n <= 2*most:
		return tan
	}
	return accent
}

func (s *sheet) bootPart(xy []float64, t tone, x, y, k float64) {
	moved := make([]float64, len(xy))
	for i := 0; i < len(xy); i += 2 {
		moved[i], moved[i+1] = x+xy[i]*k, y+xy[i+1]*k
	}
	var p vg.Path
	for i, q := range points(moved) {
		if i == 0 {
			p.Move(q)
		} else {
			p.Line(q)
		}
	}
	p.Close()
	s.SetColor(t)
	s.Fill(p)
	s.SetLineStyle(draw.LineStyle{Color: ink, Width: 1.3})
	s.Stroke(p)
}

// sole draws the sole and the heel block under the boot.
func (s *sheet) sole(x, y, k float64) {
	for _, xy := range [][]float64{
		{58, 44, 230, 44, 229, 38, 108, 38, 106, 38, 58, 38},
		{58, 38, 100, 38, 98, 22, 60, 22},
	} {
		moved := make([]float64, len(xy))
		for i := 0; i < len(xy); i += 2 {
			moved[i], moved[i+1] = x+xy[i]*k, y+xy[i+1]*k
		}
		s.fill(ink, moved...)
	}
}
