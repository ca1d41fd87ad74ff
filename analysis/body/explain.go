package body

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"lastroom/analysis/form"
)

// An explainer turns weighed hypotheses into explanations: those of one family
// on the same numbers and in the same direction are one.
type explainer struct {
	check *Check
	lay   *layout
	in    *intake
	sc    *scratch
	wrong float64 // posterior share of anything wrong
	mean  float64 // ln of the mean likelihood ratio
	index map[string]int
	found []found
}

type found struct {
	lead  int // the hypothesis with the largest share
	best  float64
	share float64
	size  float64 // mean size, mm, of a shift
}

func (e *explainer) collect() {
	for k := range e.lay.fullHyps.list {
		h := &e.lay.fullHyps.list[k]
		share := e.wrong * e.lay.fullHyps.weight[k] * math.Exp(e.sc.lr[k]-e.mean)
		if !(share > minShare/100) {
			continue
		}
		key := h.key()
		i, ok := e.index[key]
		if !ok {
			i = len(e.found)
			e.index[key] = i
			e.found = append(e.found, found{lead: k})
		}
		f := &e.found[i]
		f.share += share
		f.size += share * h.size
		if share > f.best {
			f.best, f.lead = share, k
		}
	}
	sort.SliceStable(e.found, func(i, j int) bool { return e.found[i].share > e.found[j].share })
	for _, f := range e.found {
		if f.share < minShare {
			break
		}
		h := &e.lay.fullHyps.list[f.lead]
		size := f.size / f.share
		e.check.Explanations = append(e.check.Explanations, Explanation{
			ID: familyIDs[h.family], Words: e.words(h, size), Share: f.share, Changes: e.changes(h, size)})
	}
}

// key is the same for hypotheses that are one explanation.
func (h *hypothesis) key() string {
	size := h.size
	if h.action == shift {
		size = math.Copysign(1, size)
	}
	return fmt.Sprint(h.family, h.action, h.set, size)
}

// changes lists what the numbers would have been.
func (e *explainer) changes(h *hypothesis, size float64) (out []Change) {
	set := h.set
	if h.action == sideways {
		for _, p := range e.lay.pairs {
			set = append(set, p[0], p[1])
		}
	}
	for k, i := range set {
		out = append(out, Change{e.in.from[i], e.undone(h, size, set, k)})
	}
	return out
}

func (e *explainer) undone(h *hypothesis, size float64, set []int, k int) float64 {
	i := set[k]
	y := e.sc.y[i]
	switch h.action {
	case shift:
		return y - size
	case scale:
		return y * math.Exp(h.size)
	case swap:
		return e.sc.y[set[k^1]]
	case lastDigits, firstDigits:
		return e.sc.as[i].digit[h.action-lastDigits]
	case unlike:
		return e.check.Readings[e.in.from[i]].Expected
	case elsewhere:
		return e.atItsHeight(h, set, i)
	}
	return math.NaN()
}

// atItsHeight is the number that stands where row i's own height was taken
// when every row was taken h.size too high; a single row is expected instead.
func (e *explainer) atItsHeight(h *hypothesis, set []int, i int) float64 {
	if len(set) == 1 {
		return e.check.Readings[e.in.from[i]].Expected
	}
	want := e.lay.coords[i].Height - h.size
	for _, j := range set {
		if c := e.lay.coords[j]; c.Side == e.lay.coords[i].Side && math.Abs(c.Height-want) < 1 {
			return e.sc.y[j]
		}
	}
	return math.NaN()
}

// words says an explanation in one sentence.
func (e *explainer) words(h *hypothesis, size float64) string {
	at := e.names(h.set)
	switch h.family {
	case tapeStart:
		return fmt.Sprintf("%s about %.0f mm too %s, as when the tape is not read from its start", at, math.Abs(size), largeSmall(size))
	case socks:
		return fmt.Sprintf("%s about %.0f mm too %s, as with %s", at, math.Abs(size), largeSmall(size),
			map[bool]string{true: "thicker socks", false: "no socks"}[size > 0])
	case kink:
		return at + " out of line with its neighbours and the other leg: a kink in the leg's profile"
	case oneInch:
		return fmt.Sprintf("%s an inch too %s", at, largeSmall(size))
	case halfInch:
		return fmt.Sprintf("%s half an inch too %s", at, largeSmall(size))
	case digits:
		return at + ": two digits exchanged"
	case unit:
		return at + ": " + unitWords(h.size)
	case exchanged:
		return at + ": written in each other's place"
	case tooTight:
		return at + " taken about 5 % too tight"
	case pencil:
		return fmt.Sprintf("lengths and breadths of the tracing about %.0f mm too %s, as when the pencil leans", math.Abs(size), largeSmall(size))
	case copied:
		return "one side copied from the other"
	case heightLine:
		return fmt.Sprintf("%s taken %.0f mm too %s up the leg", at, math.Abs(size), map[bool]string{true: "high", false: "low"}[size > 0])
	case tuckedExchanged:
		return "the set over the trousers and the bare set written in each other's place"
	}
	return at + " unlike the rest, by a slip of no usual kind"
}

func largeSmall(size float64) string {
	if size > 0 {
		return "large"
	}
	return "small"
}

func unitWords(d float64) string {
	switch by := math.Exp(d); {
	case math.Abs(by-2.54) < 0.01:
		return "inches written as centimetres"
	case math.Abs(by-1/2.54) < 0.01:
		return "centimetres written as inches"
	case math.Abs(by-mmPerInch) < 0.1:
		return "inches written as millimetres"
	case by > 1:
		return "ten times too small, as centimetres written as millimetres"
	}
	return "ten times too large, as millimetres written as centimetres"
}

// names lists the numbers of a set, or says how they belong together.
func (e *explainer) names(set []int) string {
	if len(set) > 4 {
		return e.groupName(set)
	}
	var out []string
	for _, i := range set {
		out = append(out, e.check.Readings[e.in.from[i]].Name())
	}
	return strings.Join(out, ", ")
}

func (e *explainer) groupName(set []int) string {
	var sides [2]bool
	var kinds [3]bool // tracing, foot girths, leg girths
	for _, i := range set {
		c := e.lay.coords[i]
		sides[c.Side] = true
		switch {
		case c.Point <= form.Breadth:
			kinds[0] = true
		case c.Point == form.Leg || c.Point == form.Calf:
			kinds[2] = true
		default:
			kinds[1] = true
		}
	}
	what := "the leg girths"
	switch {
	case kinds[0]:
		what = "all numbers"
	case kinds[1]:
		what = "all girths"
	}
	switch {
	case sides[form.Left] && sides[form.Right]:
		return what + " of both sides"
	case sides[form.Left]:
		return what + " of the left side"
	}
	return what + " of the right side"
}

// A Doubt is one explanation of one number.
type Doubt struct {
	Index       int     // into Check.Readings
	Explanation int     // into Check.Explanations
	Posterior   float64 // share of that explanation
	Suggested   float64 // what the number would have been, mm; NaN: not to be told
	Gain        float64 // shares of all explanations that touch this number, each spread evenly over its numbers: what taking it again would settle
}

// Doubts lists the doubts of a check: the number whose re-measuring would gain
// most first, under each number its explanations by share. Explanations under
// least (a posterior share) are left out.
func (c *Check) Doubts(least float64) (out []Doubt) {
	gain := make([]float64, len(c.Readings))
	for _, e := range c.Explanations {
		for _, ch := range e.Changes {
			gain[ch.Index] += e.Share / float64(len(e.Changes))
		}
	}
	for k, e := range c.Explanations {
		if e.Share < least {
			continue
		}
		for _, ch := range e.Changes {
			out = append(out, Doubt{ch.Index, k, e.Share, ch.MM, gain[ch.Index]})
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Gain != b.Gain {
			return a.Gain > b.Gain
		}
		if a.Index != b.Index {
			return a.Index < b.Index
		}
		return a.Posterior > b.Posterior
	})
	return out
}
