package practice

import (
	"math"
	"math/rand/v2"

	"lastroom/analysis/form"
)

// A Dot is a place on the paper in millimetres: X to the right, Y from the back of
// the heel towards the toes.
type Dot struct{ X, Y float64 }

// A Stroke is one line of the pencil.
type Stroke []Dot

// A Tracing is the paper of one foot as a person would see it.
type Tracing struct {
	Side    form.Side
	Outline []Stroke
	Marks   []Stroke // where the tape lay, as short lines across the outline
}

// A Circle shows where on a tracing something is wrong.
type Circle struct {
	Fault  string
	Side   form.Side
	At     Dot
	Radius float64
}

// rightFoot is the outline of a right foot seen from above, from the back of the
// heel round the outer side: across in parts of its breadth, along in parts of its
// length. A schematic of our own, no measured foot.
var rightFoot = []Dot{{0, 0}, {.2, .02}, {.33, .1}, {.35, .22}, {.37, .4}, {.48, .6}, {.49, .72}, {.41, .83}, {.25, .92},
	{.05, .97}, {-.17, 1}, {-.37, .96}, {-.46, .85}, {-.5, .72}, {-.42, .58}, {-.33, .42}, {-.32, .22}, {-.32, .1}, {-.19, .02}}

// How tracings are drawn, mm: what an eye sees on the page. Judgement.
const (
	dots       = 160 // of an outline
	trembleMM  = 0.5
	tapeMarkMM = 14.0
	ballAt     = 0.72 // of the length, on the inner side; a little less on the outer
	ballOutAt  = 0.64
	instepAt   = 0.48
)

// trace draws the tracings of the form: whole lines with all marks, but for what
// the marks of the form say is wrong with them.
func (f *Form) trace(r *rand.Rand) {
	mm := map[form.Place]float64{}
	for _, n := range f.Numbers {
		mm[n.Place] = n.ValueMM
	}
	for _, side := range form.Sides {
		length, breadth := mm[form.Place{Side: side, Point: form.Length}], mm[form.Place{Side: side, Point: form.Breadth}]
		// A number that was spoilt draws no foot; the pencil was right.
		if q := breadth / length; !(q > 0.28 && q < 0.5) || length < 180 || length > 330 {
			length, breadth = 262, 100
		}
		t := Tracing{Side: side}
		whole := outline(r, side, length, breadth)
		gapFrom, gapTo := 0, 0
		if f.wrong("outline_closed_" + side.String()) {
			for range 100 { // beside no tape mark, which would hide it
				gapFrom = 15 + r.IntN(dots-50)
				gapTo = gapFrom + int(math.Round((14+10*r.Float64())/(2.4*length)*dots))
				y := whole[(gapFrom+gapTo)/2].Y / length
				if math.Min(math.Abs(y-instepAt), math.Min(math.Abs(y-ballAt), math.Abs(y-ballOutAt))) > 0.07 {
					break
				}
			}
			f.circle("outline-broken", side, whole[(gapFrom+gapTo)/2], 17)
		}
		if gapTo > 0 {
			t.Outline = []Stroke{append(whole[gapTo:len(whole):len(whole)], whole[1:gapFrom+1]...)}
		} else {
			t.Outline = []Stroke{whole}
		}
		if f.wrong("outline_single_" + side.String()) {
			from := r.IntN(dots - 40)
			second := beside(whole[from:min(from+50+r.IntN(40), dots)], 4+2*r.Float64())
			t.Outline = append(t.Outline, second)
			f.circle("outline-doubled", side, second[len(second)/2], 26)
		}
		for _, m := range []struct {
			column     string
			inner, out float64
		}{{"ball_mark_", ballAt, ballOutAt}, {"instep_mark_", instepAt, instepAt}} {
			inner, out := across(whole, side, m.inner*length, true), across(whole, side, m.out*length, false)
			if f.wrong(m.column + side.String()) {
				f.circle("tape-marks-missing", side, inner, 12)
				f.circle("tape-marks-missing", side, out, 12)
				continue
			}
			for _, d := range []Dot{inner, out} {
				lean := 2 * r.NormFloat64()
				t.Marks = append(t.Marks, Stroke{{d.X - tapeMarkMM/2, d.Y - lean}, {d.X + tapeMarkMM/2, d.Y + lean}})
			}
		}
		f.Tracings = append(f.Tracings, t)
	}
}

// wrong reports whether a mark of the form tells of a fault.
func (f *Form) wrong(column string) bool {
	for _, m := range f.Marks {
		if m.of.Column == column {
			return m.Is == yesNo(m.of.Yes)
		}
	}
	return false
}

func (f *Form) circle(fault string, side form.Side, at Dot, radius float64) {
	f.circles = append(f.circles, Circle{fault, side, at, radius})
}

// outline is a closed curve through the points of a foot (Catmull and Rom), with
// the tremble of a hand.
func outline(r *rand.Rand, side form.Side, length, breadth float64) Stroke {
	phase, size := [3]float64{}, [3]float64{}
	for k := range phase {
		phase[k], size[k] = 2*math.Pi*r.Float64(), trembleMM*r.NormFloat64()
	}
	n := len(rightFoot)
	var s Stroke
	for i := range dots + 1 {
		at := float64(i%dots) / dots * float64(n)
		k, t := int(at), at-math.Floor(at)
		p := [4]Dot{rightFoot[(k+n-1)%n], rightFoot[k%n], rightFoot[(k+1)%n], rightFoot[(k+2)%n]}
		spline := func(a, b, c, d float64) float64 {
			return 0.5 * (2*b + (c-a)*t + (2*a-5*b+4*c-d)*t*t + (3*b-a-3*c+d)*t*t*t)
		}
		d := Dot{breadth * spline(p[0].X, p[1].X, p[2].X, p[3].X), length * spline(p[0].Y, p[1].Y, p[2].Y, p[3].Y)}
		for k := range phase {
			d.X += size[k] * math.Sin(float64(3+4*k)*2*math.Pi*float64(i%dots)/dots+phase[k])
		}
		if side == form.Left {
			d.X = -d.X
		}
		s = append(s, d)
	}
	return s
}

// beside is a second line at a distance from the first, which it leaves and comes
// back to.
func beside(line Stroke, distance float64) Stroke {
	out := make(Stroke, len(line))
	for i := range line {
		a, b := line[max(0, i-1)], line[min(len(line)-1, i+1)]
		dx, dy := b.X-a.X, b.Y-a.Y
		norm := max(math.Hypot(dx, dy), 1e-9)
		k := distance * math.Sin(math.Pi*float64(i)/float64(len(line)-1))
		out[i] = Dot{line[i].X + k*dy/norm, line[i].Y - k*dx/norm}
	}
	return out
}

// across is where the outline passes a height on the inner or the outer side.
func across(line Stroke, side form.Side, y float64, inner bool) Dot {
	left := inner == (side == form.Right) // the big toe of a right foot is on the left
	best := Dot{0, math.Inf(1)}
	for _, d := range line {
		if (d.X < 0) == left && math.Abs(d.Y-y) < math.Abs(best.Y-y) {
			best = d
		}
	}
	return best
}
