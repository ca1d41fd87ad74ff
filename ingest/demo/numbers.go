package demo

import (
	"math"
	"math/rand/v2"
	"strconv"

	"lastroom/analysis/form"
)

const inch = 25.4

// A number is one measurement as it stands on the form.
type number struct {
	side       form.Side
	clothing   form.Clothing
	point      form.Point
	height     float64 // inches; 0: not a leg girth
	mm         float64 // what the tape showed
	text, unit string
}

// legHeights are the heights at which the shop wants the leg, in inches.
func legHeights(shaft float64) []float64 {
	var hs []float64
	for _, h := range form.DefaultScheme.Heights(shaft * inch) {
		hs = append(hs, math.Round(float64(h)/inch))
	}
	return hs
}

// A tape is how one form was measured: its offset, its spread, its faults.
type tape struct {
	r      *rand.Rand
	o      *order
	faults faults
	sd     float64 // of one reading of a girth, mm (judgement)
	offset float64 // thin sock less snugness (judgement)
	cloth  float64 // what a trouser leg adds
	common map[string]float64
	higher float64 // how much higher the tape lies on the leg, mm
}

// numbers are the measurements of one form.
func (w *workshop) numbers(r *rand.Rand, o *order, f faults, m measurer) []number {
	t := &tape{r: r, o: o, faults: f, sd: m.sd, common: map[string]float64{}, higher: m.higher}
	t.offset = 2.5 + 1.5*r.NormFloat64() - m.tight
	t.cloth = 9 + 2.5*r.NormFloat64()
	if f[tapeZero] { // read from the tape's end, not its start line
		t.offset -= 14 + 18*r.Float64()
	}
	var ns []number
	for _, s := range form.Sides {
		ns = append(ns, t.foot(s)...)
	}
	for _, s := range form.Sides {
		ns = append(ns, t.leg(s, form.Bare, 0)...)
	}
	if o.tucked && !f[tuckedSkipped] {
		for _, s := range form.Sides {
			ns = append(ns, t.leg(s, form.Tucked, t.cloth)...)
		}
	}
	ns = t.drop(ns)
	w.hand(r, m).write(ns)
	for i := range ns {
		if m.rounds > 0 && chance(r, m.rounds) {
			ns[i].text = strconv.Itoa(int(math.Round(ns[i].mm / inch)))
		}
	}
	return t.spoil(ns)
}

// read is one reading: half of its error is the same on both feet.
func (t *tape) read(side form.Side, clothing form.Clothing, point form.Point, height, mm, sd float64) number {
	key := clothing.String() + point.String() + strconv.Itoa(int(height))
	half, ok := t.common[key]
	if !ok {
		half = t.r.NormFloat64()
		t.common[key] = half
	}
	mm += sd * (half + t.r.NormFloat64()) / math.Sqrt2
	return number{side: side, clothing: clothing, point: point, height: height, mm: mm}
}

func (t *tape) foot(s form.Side) []number {
	l := &t.o.person.legs[s]
	sd := t.sd
	if t.faults[selfMeasured] {
		sd *= 1.6 // bent over one's own foot
	}
	return []number{
		t.read(s, form.Bare, form.Length, 0, l.mm[footLength]+3, 0.6*t.sd), // the pencil adds to a tracing
		t.read(s, form.Bare, form.Breadth, 0, l.mm[footBreadth]+3, 0.5*t.sd),
		t.read(s, form.Bare, form.Ball, 0, l.mm[ballGirth]+t.offset, sd),
		t.read(s, form.Bare, form.Instep, 0, l.instep+t.offset, sd),
		t.read(s, form.Bare, form.Heel, 0, l.mm[heelGirth]+t.offset, 1.2*sd),
		t.read(s, form.Bare, form.Ankle, 0, l.mm[ankleGirth]+t.offset, sd),
	}
}

func (t *tape) leg(s form.Side, clothing form.Clothing, extra float64) []number {
	l := &t.o.person.legs[s]
	var ns []number
	for _, h := range t.heights() {
		at := h*inch + t.higher + 2*t.r.NormFloat64() // the height mark is a little off
		ns = append(ns, t.read(s, clothing, form.Leg, h, l.girthAt(at)+extra+t.offset, t.sd))
	}
	if clothing == form.Bare && t.o.shaft >= 10 {
		ns = append(ns, t.read(s, form.Bare, form.Calf, 0, l.mm[calfGirth]+t.offset, t.sd))
	}
	return ns
}

// heights are the wanted ones and, on tall boots, the next above the top.
func (t *tape) heights() []float64 {
	hs := legHeights(t.o.shaft)
	if n := len(hs); n > 0 && hs[n-1] < t.o.shaft && t.o.no%3 == 0 {
		hs = append(hs, hs[n-1]+2)
	}
	return hs
}

// drop takes out what a form with a missing girth or height lacks.
func (t *tape) drop(ns []number) []number {
	gone := map[form.Point]bool{}
	if t.faults[footGirth] {
		gone[form.FootGirths[pick(t.r, []float64{1, 2, 2})]] = true
	}
	from := math.Inf(1)
	if t.faults[legHeight] {
		if hs := legHeights(t.o.shaft); len(hs) == 0 {
			gone[form.Ankle] = true
		} else {
			from = hs[len(hs)-1-t.r.IntN(min(2, len(hs)))]
		}
	}
	oneSide := chance(t.r, 0.3)
	kept := ns[:0]
	for _, n := range ns {
		missing := gone[n.point] || n.point == form.Leg && n.clothing == form.Bare && n.height >= from
		if missing && (n.side == form.Left || !oneSide) {
			continue
		}
		kept = append(kept, n)
	}
	return kept
}

// spoil puts the faults in that are made in writing the numbers down.
func (t *tape) spoil(ns []number) []number {
	if t.faults[sidesCopied] {
		copySides(ns)
	}
	if len(ns) == 0 {
		return ns
	}
	if t.faults[unitMixed] {
		n := &ns[t.r.IntN(len(ns))]
		n.text = strconv.FormatFloat(math.Round(n.mm)/10, 'f', -1, 64)
		if n.unit == "cm" {
			n.text = strconv.FormatFloat(math.Round(n.mm/inch*8)/8, 'f', -1, 64)
		}
	}
	if t.faults[implausible] {
		n := &ns[t.r.IntN(len(ns))]
		per := map[string]float64{"in": inch, "cm": 10, "mm": 1}[n.unit]
		slip := []float64{4, -3, 2.5, -2}[t.r.IntN(4)] * inch
		n.mm = max(n.mm+slip, 2*inch)
		n.text = strconv.FormatFloat(math.Round(n.mm/per*4)/4, 'f', -1, 64)
	}
	return ns
}

// copySides writes every left number on the right as well.
func copySides(ns []number) {
	type place struct {
		clothing form.Clothing
		point    form.Point
		height   float64
	}
	left := map[place]number{}
	for i, n := range ns {
		p := place{n.clothing, n.point, n.height}
		if l, ok := left[p]; ok {
			ns[i].text, ns[i].mm = l.text, l.mm
		} else {
			left[p] = n
		}
	}
}

// A hand is how a form's numbers are written.
type hand struct {
	unit    string
	grain   float64 // inches: parts of an inch
	decimal bool
	mark    string // after an inch
}

func (w *workshop) hand(r *rand.Rand, m measurer) hand {
	h := hand{unit: "in", grain: 8, decimal: chance(r, 0.25)}
	if chance(r, 0.3) {
		h.grain = 4
	}
	if chance(r, 0.04) {
		h.mark = `"`
	}
	if u := m.unit; u != "" {
		h.unit = u
	} else if chance(r, 0.2) {
		h.unit = "cm"
	}
	return h
}

func (h hand) write(ns []number) {
	for i := range ns {
		n := &ns[i]
		n.unit = h.unit
		switch h.unit {
		case "mm":
			n.text = strconv.Itoa(int(math.Round(n.mm)))
		case "cm":
			n.text = strconv.FormatFloat(math.Round(n.mm)/10, 'f', -1, 64)
		default:
			n.text = h.inches(n.mm / inch)
		}
	}
}

func (h hand) inches(x float64) string {
	if h.decimal {
		return strconv.FormatFloat(math.Round(x*h.grain)/h.grain, 'f', -1, 64)
	}
	return fraction(x, int(h.grain)) + h.mark
}

// fraction writes inches as 14 5/8, in lowest terms.
func fraction(x float64, parts int) string {
	n := int(math.Round(x * float64(parts)))
	whole, n := n/parts, n%parts
	if n == 0 {
		return strconv.Itoa(whole)
	}
	for n%2 == 0 {
		n, parts = n/2, parts/2
	}
	return strconv.Itoa(whole) + " " + strconv.Itoa(n) + "/" + strconv.Itoa(parts)
}
