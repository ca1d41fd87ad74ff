package exercise

import (
	"fmt"
	"html/template"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
)

// The paper of one foot in the drawing, mm: the heel at its foot, room for the
// longest.
const (
	paperWide, paperHigh = 140.0, 330.0
	belowHeel            = 15.0
)

// Draw is the tracings of both feet as SVG of the classes tracings, pencil, mark,
// ring, side. shown rings what is wrong.
func Draw(f practice.Form, shown bool) template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="tracings" viewBox="0 0 %g %g" role="img" aria-label="tracings of the left and the right foot">`, 2*paperWide, paperHigh)
	for i, t := range f.Tracings {
		x := paperWide * (float64(i) + 0.5)
		for _, s := range t.Outline {
			fmt.Fprintf(&b, `<path class="pencil" d="%s"/>`, path(s, x))
		}
		for _, s := range t.Marks {
			fmt.Fprintf(&b, `<path class="mark" d="%s"/>`, path(s, x))
		}
		fmt.Fprintf(&b, `<text class="side" x="%g" y="%g" text-anchor="middle">%s</text>`, x, paperHigh-belowHeel-100, form.Capitalised(t.Side.String()))
		if shown {
			for _, c := range f.Circles(t.Side) {
				fmt.Fprintf(&b, `<circle class="ring" cx="%.1f" cy="%.1f" r="%.1f"/>`, x+c.At.X, paperHigh-belowHeel-c.At.Y, c.Radius)
			}
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

func path(s practice.Stroke, x float64) string {
	var b strings.Builder
	for i, d := range s {
		fmt.Fprintf(&b, "%c%.1f,%.1f", "ML"[min(i, 1)], x+d.X, paperHigh-belowHeel-d.Y)
	}
	return b.String()
}

// A Grid is the numbers of a form as its paper has them.
type Grid struct {
	Columns []string
	Rows    []row
}

// A row is a place on both sides, bare and, where asked for, over trousers.
type row struct {
	Name  string
	Cells []cell
}

// A cell is a box. Asked is false where the paper has none.
type cell struct {
	Text  string
	Asked bool
	Odd   bool // something is wrong with it; set once that may be seen
}

// GridOf lays out the numbers of a form. shown marks those that are wrong or should
// be there.
func GridOf(f practice.Form, shown bool) Grid {
	g := Grid{Columns: []string{"Left", "Right"}}
	clothings := []form.Clothing{form.Bare}
	if f.Boot.Tucked {
		g.Columns = append(g.Columns, "Left, over trousers", "Right, over trousers")
		clothings = form.Clothings
	}
	written, odd := map[form.Place]string{}, map[form.Place]bool{}
	for _, n := range f.Numbers {
		written[n.Place] = n.Written
	}
	if shown {
		for _, t := range f.Truth() {
			for _, p := range t.Places {
				odd[p] = true
			}
		}
	}
	add := func(name string, p form.Point, h form.Height) {
		r := row{Name: name}
		for _, c := range clothings {
			for _, s := range form.Sides {
				at := form.Place{Side: s, Clothing: c, Point: p, HeightMM: h}
				r.Cells = append(r.Cells, cell{written[at], c == form.Bare || p.OverTrousers(), odd[at]})
			}
		}
		g.Rows = append(g.Rows, r)
	}
	for _, p := range []form.Point{form.Length, form.Breadth, form.Ball, form.Instep, form.Heel, form.Ankle} {
		name := form.Capitalised(p.String())
		if p.Girth() {
			name += " girth"
		}
		add(name, p, 0)
	}
	for _, h := range form.DefaultScheme.Heights(f.Boot.ShaftMM) {
		add("Leg at "+f.Unit.Text(float64(h)), form.Leg, h)
	}
	return g
}

// A Tick is what is noted on the paper beside tracing and numbers.
type Tick struct {
	Label, Is string
	Odd       bool
}

// Ticks are the notes of a form that no drawing shows.
func Ticks(f practice.Form, shown bool) (out []Tick) {
	odd := map[string]bool{}
	if shown {
		for _, t := range f.Truth() {
			for _, c := range t.Columns {
				odd[c] = true
			}
		}
	}
	for _, m := range f.Marks {
		if !m.Drawn() {
			out = append(out, Tick{m.Mark, m.Is, odd[m.Column()]})
		}
	}
	return out
}

// InWords says what the tracings show, for who can't see them.
func InWords(f practice.Form) (out []Tick) {
	for _, m := range f.Marks {
		if m.Drawn() {
			out = append(out, Tick{Label: m.Mark, Is: m.Is})
		}
	}
	return out
}

// Boot is what was ordered, in a line.
func Boot(f practice.Form) string {
	s := "Shaft " + f.Unit.Text(f.Boot.ShaftMM) + "; trousers worn " + map[bool]string{true: "inside", false: "outside"}[f.Boot.Tucked]
	if f.Boot.Orthotic {
		s += "; an orthotic is worn"
	}
	return s + "."
}
