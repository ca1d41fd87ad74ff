package body

import (
	"math"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// The prior shares of the faults among faulty forms, in parts. Each kind of
// fault that benchmark, section 5 tries has about one part, so that the score
// is near its "mean likelihood ratio over all fault types, equal weights"; the
// others have less. All judgements: no count of real faults by kind is known.
const (
	partTapeForm   = 4.0 // spread over sizes by tapeSizes
	partTapeSide   = 0.6
	partSock       = 0.1 // thicker on both feet, thinner or none, thicker on one
	partInch       = 1.0
	partHalfInch   = 1.0
	partDigits     = 1.0 // last two, and again first two
	partUnitOne    = 1.2 // one number
	partUnitPoint  = 1.2 // one point on both sides
	partUnitAll    = 0.4
	partTight      = 1.0 // ball, one foot, and again both
	partPencil     = 1.0 // inward, and again outward
	partCopied     = 1.0
	partMisread    = 0.4
	partHeightSide = 0.5
	partHeightRow  = 0.5
	partTucked     = 0.5
	partOtherPairs = 0.4
)

// tapeSizes are how a common shift is spread over sizes, mm: a tape read from
// its end piece reads large more often than small. Judgement.
var tapeSizes = []struct{ mm, share float64 }{
	{10, .2}, {20, .2}, {25.4, .2}, {30, .04}, {40, .06}, {-10, .03}, {-20, .04}, {-25.4, .15}, {-30, .03}, {-40, .05},
}

// unitFactors take a number written in a wrong unit to mm: inches as
// centimetres, centimetres as inches, a lost or added tenfold, inches as mm.
var unitFactors = []struct{ by, share float64 }{
	{2.54, .6}, {1 / 2.54, .15}, {10, .1}, {0.1, .1}, {25.4, .05},
}

// A compiler builds the hypotheses that a layout's numbers allow.
type compiler struct {
	coords []human.Coord
	out    [2][]weighted // on core numbers alone, on others too
}

type weighted struct {
	hypothesis
	weight float64
}

// compile lists every hypothesis for the coordinates, with weights that sum
// to 1; the further ones come after them with the weights they have.
func compile(coords []human.Coord, further ...weighted) hypotheses {
	c := &compiler{coords: coords}
	c.singles()
	c.tape()
	c.units()
	c.tightAndPencil()
	c.exchanges()
	if c.pairs() > 0 {
		c.add(copied, sideways, nil, 0, partCopied)
	}
	return c.collect(further)
}

func (c *compiler) collect(further []weighted) (h hypotheses) {
	sum := 0.0
	for _, part := range c.out {
		for _, x := range part {
			sum += x.weight
		}
	}
	h.beyond = len(c.out[0])
	for _, part := range c.out {
		for _, x := range part {
			h.list, h.weight = append(h.list, x.hypothesis), append(h.weight, x.weight/sum)
		}
	}
	for _, x := range further {
		h.list, h.weight = append(h.list, x.hypothesis), append(h.weight, x.weight)
	}
	return h
}

func (c *compiler) add(f family, a action, set []int, size, weight float64) {
	h := hypothesis{family: f, action: a, set: set, size: size}
	if a == shift {
		h.sizeAt = sizeIndex(size)
	}
	part := 0
	for _, i := range set {
		if c.coords[i].Core < 0 {
			part = 1
		}
	}
	c.out[part] = append(c.out[part], weighted{h, weight})
}

// where lists the coordinates that f accepts.
func (c *compiler) where(f func(human.Coord) bool) (set []int) {
	for i, k := range c.coords {
		if f(k) {
			set = append(set, i)
		}
	}
	return set
}

func (c *compiler) find(s form.Side, p form.Point) int {
	for i, k := range c.coords {
		if k.Side == s && k.Point == p && k.Clothing == form.Bare {
			return i
		}
	}
	return -1
}

// pairs counts the places that stand on both sides.
func (c *compiler) pairs() (n int) {
	for _, k := range c.coords {
		if k.Side == form.Left && mirror(c.coords, k) >= 0 {
			n++
		}
	}
	return n
}

// mirror finds the other side of a coordinate, or -1.
func mirror(coords []human.Coord, k human.Coord) int {
	for i, o := range coords {
		if o.Side != k.Side && o.Point == k.Point && o.Clothing == k.Clothing && o.Height == k.Height {
			return i
		}
	}
	return -1
}

func (c *compiler) singles() {
	girths := c.where(human.Coord.Girth)
	n := float64(len(girths))
	for _, i := range girths {
		set := []int{i}
		for _, sign := range []float64{1, -1} {
			c.add(oneInch, shift, set, sign*25.4, partInch/n/2)
			c.add(halfInch, shift, set, sign*12.7, partHalfInch/n/2)
		}
		c.add(digits, lastDigits, set, 0, partDigits)
		c.add(digits, firstDigits, set, 0, partDigits)
	}
	for i, k := range c.coords {
		f := misread
		if k.Point == form.Leg {
			f = kink
		}
		c.add(f, unlike, []int{i}, 0, partMisread/float64(len(c.coords)))
	}
}

func (c *compiler) tape() {
	all := c.where(human.Coord.Girth)
	if len(all) < 2 {
		return
	}
	for _, t := range tapeSizes {
		c.add(tapeStart, shift, all, t.mm, partTapeForm*t.share)
	}
	c.add(socks, shift, all, 6, partSock)
	c.add(socks, shift, all, -4, partSock)
	for s := form.Left; s <= form.Right; s++ {
		side := c.where(func(k human.Coord) bool { return k.Girth() && k.Side == s })
		if len(side) < 2 || len(side) == len(all) {
			continue
		}
		for _, t := range tapeSizes {
			c.add(tapeStart, shift, side, t.mm, partTapeSide*t.share/2)
		}
		c.add(socks, shift, side, 6, partSock/4)
		c.add(socks, shift, side, 10, partSock/4)
	}
}

func (c *compiler) units() {
	n := float64(len(c.coords))
	all := c.where(func(human.Coord) bool { return true })
	for _, u := range unitFactors {
		d := math.Log(u.by)
		for _, i := range all {
			c.add(unit, scale, []int{i}, d, partUnitOne*u.share/n)
		}
		if len(all) > 1 {
			c.add(unit, scale, all, d, partUnitAll*u.share)
		}
		c.unitOfPoint(d, u.share, len(all))
	}
}

// unitOfPoint scales one point on both sides, bare or tucked.
func (c *compiler) unitOfPoint(d, share float64, all int) {
	for p := form.Length; p < form.PointCount; p++ {
		for _, wear := range []form.Clothing{form.Bare, form.Tucked} {
			set := c.where(func(k human.Coord) bool { return k.Point == p && k.Clothing == wear })
			if len(set) < 2 || len(set) == all {
				continue
			}
			w := 0.2
			if p == form.Length { // a tracing is measured by itself, so its unit goes wrong by itself
				w = 0.4
			}
			c.add(unit, scale, set, d, partUnitPoint*share*w)
		}
	}
}

func (c *compiler) tightAndPencil() {
	d := -math.Log(0.95)
	l, r := c.find(form.Left, form.Ball), c.find(form.Right, form.Ball)
	for _, i := range []int{l, r} {
		if i >= 0 {
			c.add(tooTight, scale, []int{i}, d, partTight/2)
		}
	}
	if l >= 0 && r >= 0 {
		c.add(tooTight, scale, []int{l, r}, d, partTight)
	}
	if traced := c.where(func(k human.Coord) bool { return !k.Girth() }); len(traced) > 0 {
		c.add(pencil, shift, traced, 6, partPencil)
		c.add(pencil, shift, traced, -4, partPencil)
	}
}

// exchangeParts are the pairs of points whose numbers may stand in each
// other's place: on one foot, on both. Judgement, like all the parts.
var exchangeParts = []struct {
	a, b      form.Point
	one, both float64
}{
	{form.Ball, form.Heel, 1, .1}, {form.Ball, form.Ankle, 1, 1}, {form.Heel, form.Calf, 1, .1},
	{form.Heel, form.Ankle, .15, .05}, {form.Ankle, form.Calf, .15, .05}, {form.Ball, form.Instep, .15, .05}, {form.Instep, form.Heel, .1, .05},
	{form.Length, form.Ball, .1, .05}, {form.Length, form.Breadth, .1, .05},
}

func (c *compiler) exchanges() {
	for _, e := range exchangeParts {
		var both []int
		for s := form.Left; s <= form.Right; s++ {
			a, b := c.find(s, e.a), c.find(s, e.b)
			if a >= 0 && b >= 0 {
				c.add(exchanged, swap, []int{a, b}, 0, e.one/2)
				both = append(both, a, b)
			}
		}
		if len(both) == 4 {
			c.add(exchanged, swap, both, 0, e.both)
		}
	}
	c.neighbours()
	c.tucked()
}

// neighbours exchanges leg girths next to each other, and left with right.
func (c *compiler) neighbours() {
	var sets [][]int
	for i := range c.coords {
		j := i + 1
		if j < len(c.coords) && c.coords[i].Point == form.Leg && c.coords[j].Point == form.Leg &&
			c.coords[i].Side == c.coords[j].Side && c.coords[i].Clothing == c.coords[j].Clothing {
			sets = append(sets, []int{i, j})
		}
	}
	for _, set := range sets {
		c.add(exchanged, swap, set, 0, partOtherPairs/float64(len(sets)))
	}
}

// tucked exchanges the tucked set with the bare one.
func (c *compiler) tucked() {
	var set []int
	for i, k := range c.coords {
		if k.Clothing != form.Tucked {
			continue
		}
		for j, o := range c.coords {
			if o.Clothing == form.Bare && o.Side == k.Side && o.Point == k.Point && o.Height == k.Height {
				set = append(set, i, j)
			}
		}
	}
	if len(set) > 0 {
		c.add(tuckedExchanged, swap, set, 0, partTucked)
	}
}
