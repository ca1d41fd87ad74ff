package sheet

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"

	"lastroom/analysis/form"
	"lastroom/reports/words"
)

// longestFoot is the longest foot that a page of this inner height takes, in
// millimetres, to the half centimetre or half inch below: the pencil needs room.
func longestFoot(innerHeight float64, unit form.Unit) float64 {
	step := 5.0
	if unit == form.Inch {
		step = unit.MM() / 2
	}
	return math.Floor((innerHeight-heelLine-6)/step) * step
}

// heelLine is how far above the lower edge of the page the heel line lies.
const heelLine = 9.0

// footZone is the part of the page that the foot stands on, in millimetres: corner
// marks around the page's height, the heel line, the line for the second toe.
func footZone(l *words.Language, w, h float64, side form.Side) template.HTML {
	y, x := h-heelLine, w/2
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="zone" width="%gmm" height="%gmm" viewBox="0 0 %g %g" aria-hidden="true">`, w, h, w, h)
	fmt.Fprintf(&b, `<path class="guide" d="M%g,%gH%g"/>`, 12.0, y, w-12)
	fmt.Fprintf(&b, `<path class="guide dash" d="M%g,%gV%g"/>`, x, y+4, 14.0)
	fmt.Fprintf(&b, `<text x="%g" y="%g" class="note">%s</text>`, 13.0, y+4.5, html.EscapeString(l.Say("heel_line")))
	fmt.Fprintf(&b, `<text x="%g" y="%g" class="note" text-anchor="middle">%s</text>`, x, 11.0, html.EscapeString(l.Say("toe_line")))
	inner := w - 14
	if side == form.Right {
		inner = 8
	}
	// A light letter on the inner side says which foot this is, wherever the sheet is cut.
	fmt.Fprintf(&b, `<text x="%g" y="%g" class="side">%s</text></svg>`, inner, h/2, html.EscapeString(strings.ToUpper(string([]rune(l.Say(side.String()))[:1]))))
	return template.HTML(b.String())
}

// barMM is the length of the scale bar.
const barMM = 100

// scaleBar is an upright bar to check the print with, a tick each 10 mm.
func scaleBar() template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="bar" width="14mm" height="%dmm" viewBox="0 -1 14 %d" role="img" aria-label="%d mm">`, barMM+2, barMM+2, barMM)
	fmt.Fprintf(&b, `<path id="bar" class="barline" d="M3,0V%d"/>`, barMM)
	for at := 0; at <= barMM; at += 10 {
		long := 3.0
		if at%50 == 0 {
			long = 5
		}
		fmt.Fprintf(&b, `<path class="tick" d="M3,%dh%g"/>`, at, long)
		if at%50 == 0 {
			fmt.Fprintf(&b, `<text x="8.6" y="%g" class="note">%d</text>`, float64(at)+1.1, barMM-at)
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// The leg of the drawings is this project's own schematic, toe to the right, in a
// space of 64 by 104, the floor at y 99; legEdge are its back and front at some
// heights of the drawing.
const legPath = `M15,99C10,99 11,90 15,84C18,76 15,66 11,52C8,40 11,22 13,6L37,6C38,22 36,40 34,54C33,66 31,74 33,79C38,85 48,88 55,91C60,93 60,99 56,99Z`

var legEdge = [][3]float64{{6, 13, 37}, {25, 10.6, 36.8}, {42, 9.4, 35.4}, {54, 11.4, 34}, {66, 14.6, 32.6}, {77, 16.4, 32}, {84, 15, 37}}

// drawnHeight is where a height above the floor lies in the drawing: a leg up to
// the knee is some 490 mm.
func drawnHeight(h form.Height) float64 { return math.Max(99-float64(h)*0.19, 8) }

func edgesAt(y float64) (back, front float64) {
	for i := 1; i < len(legEdge); i++ {
		a, b := legEdge[i-1], legEdge[i]
		if y <= b[0] {
			t := math.Max(0, (y-a[0])/(b[0]-a[0]))
			return a[1] + t*(b[1]-a[1]), a[2] + t*(b[2]-a[2])
		}
	}
	last := legEdge[len(legEdge)-1]
	return last[1], last[2]
}

// tapeLine is where the tape lies for a place, from back to front.
func tapeLine(p form.Place, s form.Scheme) (x0, y0, x1, y1 float64) {
	switch p.Point {
	case form.Ball:
		return 43, 99, 47, 88
	case form.Instep:
		return 33, 99, 39, 84
	case form.Heel:
		if s.HeelGirth == form.LongHeel {
			return 12.4, 97, 41, 85
		}
		return 12.4, 97, 32.6, 79
	case form.Ankle:
		if s.AnkleGirth == form.OverBones {
			return 15.2, 83, 34.5, 80.5
		}
		return 16.2, 75, 32, 75
	case form.Calf:
		x0, x1 = edgesAt(42)
		return x0, 42, x1, 42
	}
	y := drawnHeight(p.HeightMM)
	x0, x1 = edgesAt(y)
	return x0, y, x1, y
}

func tapeBand(p form.Place, s form.Scheme) string {
	x0, y0, x1, y1 := tapeLine(p, s)
	return fmt.Sprintf(`<path class="tape" d="M%.1f,%.1fQ%.1f,%.1f %.1f,%.1f"/>`, x0, y0, (x0+x1)/2, (y0+y1)/2+2.4, x1, y1)
}

// drawPlace is a leg, or its foot, with the tape at a place, some millimetres
// high; a height has its ruler.
func drawPlace(p form.Place, s form.Scheme, mm float64) template.HTML {
	var b strings.Builder
	frame := "-8 2 76 101"
	if p.Point < form.Ankle {
		frame = "-2 61 66 42"
	}
	fmt.Fprintf(&b, `<svg class="place" height="%.1fmm" width="20mm" viewBox="%s" aria-hidden="true"><path class="floor" d="M-6,99H66"/>`, mm, frame)
	b.WriteString(`<path class="body" d="` + legPath + `"/>` + tapeBand(p, s))
	if p.Point == form.Leg {
		fmt.Fprintf(&b, `<path class="ruler" d="M-2,99V%.1fM-4,%.1fh4"/>`, drawnHeight(p.HeightMM), drawnHeight(p.HeightMM))
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// tracing says how an outline is drawn.
type tracing struct{ left, marks, oneMark, gap, double bool }

const footPath = `M31,92C21,92 17,83 19,72C22,58 16,47 14,36C12,22 18,8 31,6C44,5 51,17 50,30C49,42 46,50 47,62C48,78 45,92 31,92Z`

// drawTracing is the outline of a foot, the right one if not said otherwise,
// with its tape marks.
func drawTracing(t tracing) template.HTML {
	var b strings.Builder
	b.WriteString(`<svg class="tracing" viewBox="4 0 56 100" aria-hidden="true">`)
	if t.left {
		b.WriteString(`<g transform="translate(64,0) scale(-1,1)">`)
	} else {
		b.WriteString(`<g>`)
	}
	dash := ""
	if t.gap {
		dash = ` pathLength="100" stroke-dasharray="54 9 37"`
	}
	b.WriteString(`<path class="pencil" d="` + footPath + `"` + dash + `/>`)
	if t.double {
		b.WriteString(`<path class="pencil" transform="translate(-2.5,2.2) rotate(-3 31 60)" d="` + footPath + `"/>`)
	}
	marks := `M9.5,36h8M46.5,30h8M13,58h8M43.5,55h8`
	if t.oneMark {
		marks = `M9.5,36h8`
	}
	if t.marks || t.oneMark {
		b.WriteString(`<path class="mark" d="` + marks + `"/>`)
	}
	if t.oneMark {
		b.WriteString(`<g class="missing"><circle cx="50.5" cy="30" r="5"/><circle cx="17" cy="58" r="5"/><circle cx="47.5" cy="55" r="5"/></g>`)
	}
	b.WriteString(`</g></svg>`)
	return template.HTML(b.String())
}

// drawTape is the end of a tape laid over the tape: read from its start line, or
// from the metal end before it.
func drawTape(fromStart bool) template.HTML {
	var b strings.Builder
	b.WriteString(`<svg class="wide" viewBox="0 0 120 62" aria-hidden="true"><rect class="ribbon" x="2" y="34" width="116" height="16"/>`)
	for k := range 12 {
		x := 8 + 10*k
		long := 4
		if k%2 == 0 {
			long = 7
			fmt.Fprintf(&b, `<text class="number" x="%d" y="47.5">%d</text>`, x+1, 13+k/2)
		}
		fmt.Fprintf(&b, `<path class="tick" d="M%d,34v%d"/>`, x, long)
	}
	b.WriteString(`<rect class="ribbon" x="46" y="14" width="72" height="16"/><rect class="metal" x="36" y="13" width="10" height="18"/>`)
	b.WriteString(`<path class="mark" d="M58,14v16"/><text class="number" x="60" y="26">0</text><text class="number" x="100" y="26">2</text><path class="tick" d="M78,14v4M98,14v7"/>`)
	at := 36
	if fromStart {
		at = 58
	}
	fmt.Fprintf(&b, `<path class="arrow" d="M%d,2v9m-3,-4l3,4l3,-4M%d,31v6"/></svg>`, at, at)
	return template.HTML(b.String())
}

// A cell of a drawn form: a number, and whether it is the one to look at.
type cell struct {
	text string
	odd  bool
}

// drawForm is a corner of a filled form.
func drawForm(rows ...[3]cell) template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="wide" viewBox="0 0 120 %d" aria-hidden="true">`, 14*len(rows)+2)
	for i, r := range rows {
		y := 1 + 14*i
		for k, c := range r {
			x, w := []int{-2, 55, 88}[k], []int{56, 31, 31}[k]
			if k > 0 {
				class := "cell"
				if c.odd {
					class = "cell odd"
				}
				fmt.Fprintf(&b, `<rect class="%s" x="%d" y="%d" width="%d" height="12"/>`, class, x, y, w)
			}
			fmt.Fprintf(&b, `<text class="%s" x="%d" y="%d">%s</text>`, map[bool]string{true: "number", false: "label"}[k > 0], x+3, y+9, html.EscapeString(c.text))
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// drawLeg is a leg with tapes at some of the heights of a tall boot, over
// trousers or bare; missing ones are ringed.
func drawLeg(s form.Scheme, heights []form.Height, missing map[int]bool, trousers bool) template.HTML {
	var b strings.Builder
	b.WriteString(`<svg class="leg" viewBox="-8 0 76 104" aria-hidden="true"><path class="floor" d="M-6,99H66"/><path class="body" d="` + legPath + `"/>`)
	if trousers {
		b.WriteString(`<path class="cloth" d="M8,78C4,60 3,30 7,4H43C46,24 42,50 40,66L41,80C30,84 16,83 8,78Z"/>`)
	}
	for i, h := range heights {
		at := form.Place{Point: form.Leg, HeightMM: h}
		if missing[i] {
			x0, y, x1, _ := tapeLine(at, s)
			fmt.Fprintf(&b, `<g class="missing"><ellipse cx="%.1f" cy="%.1f" rx="%.1f" ry="4"/></g>`, (x0+x1)/2, y, (x1-x0)/2+3)
			continue
		}
		b.WriteString(tapeBand(at, s))
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// drawPeople is the wearer with a helper at the tape, or bent over alone.
func drawPeople(helper bool) template.HTML {
	const open = `<svg class="wide" viewBox="0 0 120 90" aria-hidden="true"><path class="floor" d="M4,86H116"/>`
	if helper {
		return open + `<g class="person"><circle cx="50" cy="12" r="7"/><path d="M50,19V50M50,50L46,86M50,50L58,86M50,26L42,46M50,26L60,44"/>` +
			`<circle cx="88" cy="40" r="7"/><path d="M88,47L92,68L78,72L80,86M92,68L102,86M88,54L62,68"/></g><path class="tape" d="M45,69q9,4 15,0"/></svg>`
	}
	return open + `<g class="person"><circle cx="82" cy="44" r="7"/><path d="M76,40Q62,26 50,48M50,48L46,86M50,48L60,86M74,46L62,68"/></g><path class="tape" d="M45,69q9,4 15,-1"/></svg>`
}

// drawInsert is a foot on an insert, talked over or not.
func drawInsert(said string) template.HTML {
	return template.HTML(`<svg class="wide" viewBox="0 30 120 74" aria-hidden="true"><path class="floor" d="M-6,101H116"/><g transform="translate(0,-6)"><path class="body" d="` + legPath +
		`"/></g><path class="insert" d="M12,93.5H57L58,100H12Q9,96 12,93.5Z"/><path class="bubble" d="M66,40h52v24h-38l-8,8l1,-8h-7z"/><text class="number" x="92" y="55" text-anchor="middle">` + html.EscapeString(said) + `</text></svg>`)
}
