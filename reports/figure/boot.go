package figure

import (
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"lastroom/analysis/form"
	"lastroom/reports/figure/svg"
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
	{form.ZoneBall, []float64{166, 82, 190, 75, 192, 44, 160, 44}, [2]float64{177, 58}},
	{form.ZoneToe, []float64{190, 75, 212, 68, 226, 58, 230, 48, 226, 44, 192, 44}, [2]float64{204, 56}},
}

// sole are the sole and the heel block under the boot.
var sole = [][]float64{
	{58, 44, 230, 44, 229, 38, 108, 38, 106, 38, 58, 38},
	{58, 38, 100, 38, 98, 22, 60, 22},
}

// A ramp tells how dark a count is: four steps in equal parts of the largest,
// apart in greyscale too; in dark mode more is lighter.
type ramp struct{ most int }

var rampTones = []svg.Tone{svg.Step1, svg.Step2, svg.Step3, svg.Step4}

// step is 0 for none, else 1 to the number of steps.
func (r ramp) step(n int) int {
	if n <= 0 {
		return 0
	}
	return (n*r.steps() + r.most - 1) / r.most
}

func (r ramp) steps() int { return min(len(rampTones), r.most) }

// tone is the tone of a step; few steps lie as far apart as they can.
func (r ramp) tone(step int) svg.Tone {
	if step == 0 {
		return svg.Paper
	}
	return rampTones[len(rampTones)-1-(r.steps()-step)*len(rampTones)/r.steps()]
}

// keys say which counts each step stands for.
func (r ramp) keys() []svg.Key {
	edge := svg.Stroke(svg.Ink, 1, nil)
	keys := []svg.Key{{Label: "none", Thumb: svg.Boxes{}.Polygon(svg.Paper, edge)}}
	from := 1
	for step := 1; step <= r.steps(); step++ {
		to := from
		for to < r.most && r.step(to+1) == step {
			to++
		}
		label := page.Thousands(from)
		if to > from {
			label = fmt.Sprintf("%s to %s", label, page.Thousands(to))
		}
		keys = append(keys, svg.Key{Label: label, Thumb: svg.Boxes{}.Polygon(r.tone(step), edge)})
		from = to + 1
	}
	return keys
}

// drawBoot draws a boot k times its size with its lower left corner at that of
// the canvas, each zone with its count; length is a line under the sole. The
// left boot is the right one mirrored.
func drawBoot(c draw.Canvas, title string, count map[form.Zone]int, r ramp, mirrored bool, k vg.Length) {
	p := svg.NewPlot()
	p.HideAxes()
	p.X.Padding, p.Y.Padding = 0, 0
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, bootWidth, 0, bootHeight
	if mirrored {
		p.X.Scale = plot.InvertedScale{Normalizer: plot.LinearScale{}}
	}
	words := &svg.Labels{}
	for _, part := range bootParts {
		n := count[part.zone]
		shade := r.step(n)
		p.Add(&plotter.Polygon{XYs: []plotter.XYs{pairs(part.xy)}, Color: r.tone(shade), LineStyle: svg.Stroke(svg.Ink, 1.3, nil)})
		t := svg.Ink
		if r.tone(shade) == svg.Step3 || r.tone(shade) == svg.Step4 {
			t = svg.Paper
		}
		words.Add(part.at[0], part.at[1], page.Thousands(n), svg.Bold(svg.Lettering(svg.Normal, t, svg.AlignCentre, svg.AlignMiddle)))
	}
	for _, xy := range sole {
		p.Add(&plotter.Polygon{XYs: []plotter.XYs{pairs(xy)}, Color: svg.Ink})
	}
	for _, xy := range [][]float64{{60, 9, 230, 9}, {60, 4, 60, 14}, {230, 4, 230, 14}} {
		p.Add(&plotter.Line{XYs: pairs(xy), LineStyle: svg.Stroke(svg.Ink, 1.2, nil)})
	}
	length := &svg.Labels{OnPaper: true}
	length.Add(145, 9, "length "+page.Thousands(count[form.ZoneLength]), svg.Bold(svg.Lettering(svg.Normal, svg.Ink, svg.AlignCentre, svg.AlignMiddle)))
	p.Add(words, length)
	c.Max = c.Min.Add(vg.Point{X: bootWidth * k, Y: bootHeight * k})
	p.Draw(c)
	x := c.Min.X + 180*k
	if mirrored {
		x = c.Min.X + (bootWidth-180)*k
	}
	c.FillText(svg.Bold(svg.Lettering(svg.Normal, svg.Ink, svg.AlignCentre, svg.AlignMiddle)), vg.Point{X: x, Y: c.Min.Y + 180*k}, title)
}

func pairs(xy []float64) plotter.XYs {
	out := make(plotter.XYs, len(xy)/2)
	for i := range out {
		out[i] = plotter.XY{X: xy[2*i], Y: xy[2*i+1]}
	}
	return out
}
