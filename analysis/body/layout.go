package body

import (
	"math"
	"slices"
	"sort"

	"lastroom/analysis/form"
)

// A layout is everything that forms with the same set of numbers, sex, channel
// and reading step have in common.
type layout struct {
	coords []coord
	girths []bool // which of them a tape took
	nCore  int    // the first nCore coordinates are core numbers
	sexes  []form.Sex
	step   float64
	terms  [][]term // one list a sex, while the layout is built

	core, full         []*gauss // one a sex; the same when all numbers are core
	coreHyps, fullHyps hypotheses
	ranges             [][]rangeOf // one list a sex
	families           uint64      // bit set of the families among the full hypotheses
	beyond             float64     // weight of the full hypotheses that touch more than core numbers
	pairs              [][2]int    // left, right
	pairSD             []float64
	tail               tail // of the core score among good forms
	spread             tail // of the range statistic
}

// Codes order the numbers of a form: core numbers first, then by point,
// clothing, side and height.
func (c coord) code() uint32 {
	if c.core >= 0 {
		return uint32(c.core)
	}
	return 1<<28 | uint32(c.point)<<24 | uint32(c.clothing)<<23 | uint32(c.side)<<22 | uint32(math.Round(c.height*10))
}

func coordOf(code uint32) coord {
	if code < core {
		return coord{core: int(code), side: form.Side(code / features), point: featurePoint[code%features]}
	}
	return coord{core: -1, point: form.Point(code >> 24 & 15), clothing: form.Clothing(code >> 23 & 1), side: form.Side(code >> 22 & 1),
		height: float64(code&(1<<22-1)) / 10}
}

var featurePoint = [features]form.Point{form.Length, form.Breadth, form.Ball, form.Heel, form.Ankle, form.Calf}

// layoutKey is the codes in order, with what else sets a layout apart.
type layoutSpec struct {
	codes   []uint32
	sex     form.Sex
	channel form.Channel
	step    int // into steps
}

func (s layoutSpec) key(buf []byte) []byte {
	buf = append(buf[:0], byte(s.sex), byte(s.channel), byte(s.step))
	for _, c := range s.codes {
		buf = append(buf, byte(c>>24), byte(c>>16), byte(c>>8), byte(c))
	}
	return buf
}

// gaussLayout builds the joint models of a specification, no hypotheses yet;
// false where the numbers can't be judged together.
func (m *Model) gaussLayout(s layoutSpec) (*layout, bool) {
	lay := &layout{step: steps[s.step], sexes: sexesOf(s.sex)}
	for _, c := range s.codes {
		lay.coords = append(lay.coords, coordOf(c))
		lay.girths = append(lay.girths, isGirth(coordOf(c)))
		if c < core {
			lay.nCore++
		}
	}
	for _, sex := range lay.sexes {
		if !lay.addSex(m.world(sex, s.channel, s.step)) {
			return nil, false
		}
	}
	return lay, true
}

// newLayout builds the layout of a specification but for its tails.
func (m *Model) newLayout(s layoutSpec) (*layout, bool) {
	lay, ok := m.gaussLayout(s)
	if !ok {
		return nil, false
	}
	lay.coreHyps = compile(lay.coords[:lay.nCore]).withQuads(lay.core)
	lay.fullHyps = lay.coreHyps
	if lay.nCore < len(lay.coords) {
		lay.fullHyps = compile(lay.coords, m.heightHyps(s, lay)...).withQuads(lay.full)
	}
	lay.families = lay.fullHyps.families()
	for _, w := range lay.fullHyps.weight[lay.fullHyps.beyond:] {
		lay.beyond += w
	}
	lay.pair(m.world(lay.sexes[0], s.channel, s.step))
	lay.terms = nil
	return lay, true
}

func (lay *layout) addSex(w *world) bool {
	terms := w.terms(lay.coords)
	full, err := newGauss(w, terms)
	if err != nil {
		return false
	}
	only := full
	if lay.nCore > 0 && lay.nCore < len(terms) {
		if only, err = newGauss(w, terms[:lay.nCore]); err != nil {
			return false
		}
	}
	lay.core, lay.full = append(lay.core, only), append(lay.full, full)
	lay.terms = append(lay.terms, terms)
	lay.ranges = append(lay.ranges, formRanges(w, lay.coords[:lay.nCore]))
	return true
}

// pair finds what stands on both sides, with the SD, mm, of left minus right
// before rounding.
func (lay *layout) pair(w *world) {
	unrounded := *w
	unrounded.step = 0
	unrounded.core = coreMoments(w.fig, &w.m, 0)
	for i, c := range lay.coords {
		j := mirror(lay.coords, c)
		if c.side != form.Left || j < 0 {
			continue
		}
		a, b := unrounded.term(c), unrounded.term(lay.coords[j])
		v := w.m.Inflate * (unrounded.cov(&a, &a) + unrounded.cov(&b, &b) - 2*unrounded.cov(&a, &b))
		lay.pairs = append(lay.pairs, [2]int{i, j})
		lay.pairSD = append(lay.pairSD, math.Sqrt(v)*a.mm)
	}
}

// Leg heights outside these, mm above the floor, are not judged: foot and knee.
const (
	minHeight = 60.0
	maxHeight = 560.0
)

// heightHyps are the wrong height lines: a side, both sides or one row whose
// leg girths were taken one step higher or lower than they say.
func (m *Model) heightHyps(s layoutSpec, lay *layout) (out []weighted) {
	var rows [2][]int
	for i, c := range lay.coords {
		if c.point == form.Leg && c.clothing == form.Bare {
			rows[c.side] = append(rows[c.side], i)
		}
	}
	step := heightStep(lay.coords, rows)
	if step == 0 {
		return nil
	}
	sets := [][]int{rows[form.Left], rows[form.Right], append(append([]int{}, rows[form.Left]...), rows[form.Right]...)}
	if len(rows[form.Left]) == 0 || len(rows[form.Right]) == 0 {
		sets = sets[:2]
	}
	for _, up := range []float64{step, -step} {
		for _, set := range sets {
			if len(set) > 1 {
				out = m.elsewhere(s, lay, out, set, up, partHeightSide/6)
			}
		}
		all := sets[len(sets)-1]
		for _, i := range all {
			out = m.elsewhere(s, lay, out, []int{i}, up, partHeightRow/2/float64(len(all)))
		}
	}
	return out
}

// elsewhere adds the hypothesis that the numbers set were taken up mm away from
// their heights; a single one is worked out without a joint model of its own.
func (m *Model) elsewhere(s layoutSpec, lay *layout, out []weighted, set []int, up float64, part float64) []weighted {
	h := hypothesis{family: heightLine, action: elsewhere, set: set, size: up}
	coords := slices.Clone(lay.coords)
	for _, i := range set {
		coords[i].height += up
		if coords[i].height < minHeight {
			return out
		}
	}
	for k, sex := range lay.sexes {
		w := m.world(sex, s.channel, s.step)
		if len(set) == 1 {
			t := w.term(coords[set[0]])
			h.alt = append(h.alt, lay.full[k].moved(w, lay.terms[k], set[0], &t))
			continue
		}
		g, err := newGauss(w, w.terms(coords))
		if err != nil {
			return out
		}
		h.alt = append(h.alt, &alt{g: g})
	}
	return append(out, weighted{h, part / 20})
}

// heightStep is the middle distance between neighbouring leg heights, or 0.
func heightStep(coords []coord, rows [2][]int) float64 {
	var d []float64
	for _, side := range rows {
		for k := 1; k < len(side); k++ {
			d = append(d, coords[side[k]].height-coords[side[k-1]].height)
		}
	}
	if len(d) == 0 {
		return 0
	}
	sort.Float64s(d)
	return d[len(d)/2]
}
