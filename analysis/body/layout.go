package body

import (
	"math"
	"slices"
	"sort"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// A layout is everything that forms with the same set of numbers, sex, channel
// and reading step have in common.
type layout struct {
	coords []human.Coord
	girths []bool // which of them a tape took
	nCore  int    // the first nCore coordinates are core numbers
	sexes  []form.Sex
	step   float64
	terms  [][]human.Term // one list a sex, while the layout is built

	core, full         []*human.Gauss // one a sex; the same when all numbers are core
	coreHyps, fullHyps hypotheses
	ranges             [][]rangeOf // one list a sex
	families           uint64      // bit set of the families among the full hypotheses
	beyond             float64     // weight of the full hypotheses that touch more than core numbers
	pairs              [][2]int    // left, right
	pairSD             []float64
	tail               tail // of the core score among good forms
	spread             tail // of the range statistic
}

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
	lay := &layout{step: steps[s.step], sexes: human.SexesOf(s.sex)}
	for _, c := range s.codes {
		lay.coords = append(lay.coords, human.CoordOf(c))
		lay.girths = append(lay.girths, human.CoordOf(c).Girth())
		if c < human.CoreCount {
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

func (lay *layout) addSex(w *human.World) bool {
	terms := w.Terms(lay.coords)
	full, err := human.NewGauss(w, terms)
	if err != nil {
		return false
	}
	full.AddUnusual(w, terms, nil)
	only := full
	if lay.nCore > 0 && lay.nCore < len(terms) {
		if only, err = human.NewGauss(w, terms[:lay.nCore]); err != nil {
			return false
		}
		only.AddUnusual(w, terms[:lay.nCore], nil)
	}
	lay.core, lay.full = append(lay.core, only), append(lay.full, full)
	lay.terms = append(lay.terms, terms)
	lay.ranges = append(lay.ranges, formRanges(w, lay.coords[:lay.nCore]))
	return true
}

// pair finds what stands on both sides, with the SD, mm, of left minus right
// before rounding.
func (lay *layout) pair(w *human.World) {
	unrounded := *w
	unrounded.Step = 0
	unrounded.Core = human.CoreMoments(w.Figures, &w.Measuring, 0)
	for i, c := range lay.coords {
		j := mirror(lay.coords, c)
		if c.Side != form.Left || j < 0 {
			continue
		}
		a, b := unrounded.Term(c), unrounded.Term(lay.coords[j])
		v := w.Measuring.Inflate * (unrounded.Cov(&a, &a) + unrounded.Cov(&b, &b) - 2*unrounded.Cov(&a, &b))
		lay.pairs = append(lay.pairs, [2]int{i, j})
		lay.pairSD = append(lay.pairSD, math.Sqrt(v)*a.MM)
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
		if c.Point == form.Leg && c.Clothing == form.Bare {
			rows[c.Side] = append(rows[c.Side], i)
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
		coords[i].Height += up
		if coords[i].Height < minHeight {
			return out
		}
	}
	for k, sex := range lay.sexes {
		w := m.world(sex, s.channel, s.step)
		if len(set) == 1 {
			t := w.Term(coords[set[0]])
			h.alt = append(h.alt, moved(lay.full[k], w, lay.terms[k], set[0], &t))
			continue
		}
		g, err := human.NewGauss(w, w.Terms(coords))
		if err != nil {
			return out
		}
		h.alt = append(h.alt, &alt{g: g})
	}
	return append(out, weighted{h, part / 20})
}

// heightStep is the middle distance between neighbouring leg heights, or 0.
func heightStep(coords []human.Coord, rows [2][]int) float64 {
	var d []float64
	for _, side := range rows {
		for k := 1; k < len(side); k++ {
			d = append(d, coords[side[k]].Height-coords[side[k-1]].Height)
		}
	}
	if len(d) == 0 {
		return 0
	}
	sort.Float64s(d)
	return d[len(d)/2]
}
