package measurers

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/signs"
)

// A Work is one thing for a measurer to work on.
type Work struct {
	Title string
	Seen  string // in the measurer's own forms or sessions
	How   string // to do it; "" where the teaching sheet says it
	// Lesson is the fault whose teaching sheet shows it; "" where there is none.
	Lesson string
	// Forms and Orders are the measurer's own that show it, newest first.
	Forms, Orders []string
}

// mostWork is how many things one can work on at a time (judgement).
const mostWork = 2

// Work is what a measurer should work on first, at most two things: faults that
// stand out most, then what sessions show, then signs in ordinary forms. Of several signs
// of one habit the first is taken; numbers that only look wrong because they were rounded
// off are no fault beside it; and where a session with the instructor shows a girth to be
// right, no sign in ordinary forms says otherwise. None is an answer.
func (m Measurer) Work() []Work {
	var out []Work
	had := map[string]bool{}
	add := func(about string, w Work) {
		if len(out) < mostWork && !had[about] {
			had[about] = true
			out = append(out, w)
		}
	}
	if k := slices.IndexFunc(m.Signs, func(s signs.Sign) bool { return s.Sign == signs.RoundedOff }); k >= 0 && m.Signs[k].StandsOut {
		had["value-implausible"] = true
	}
	for _, f := range m.StandingOut() {
		k, _ := form.FaultIndex(f.Fault)
		add(f.Fault, Work{Title: form.Faults[k].Title, Lesson: f.Fault, Orders: f.Orders,
			Seen: fmt.Sprintf("%d of your %d forms have it; of others' forms for boots as tall about %.0f of %d would.", f.With, f.AtRisk, f.Expected.Point*float64(f.AtRisk), f.AtRisk)})
	}
	for _, h := range m.Habits {
		if h.HeightMatters() {
			add(signs.TapeHeight, heightWork(h.Height.Point, fmt.Sprintf("On %d legs that you taped beside the instructor your tape lay about %.0f mm %s.", h.Legs, math.Abs(h.Height.Point), upOrDown(h.Height.Point)), m.examples(signs.TapeHeight)))
		}
		if h.TightMatters() {
			add(signs.TapeShifted, tightWork(h.Tightness.Point, fmt.Sprintf("On %d legs that you taped beside the instructor you read about %.0f mm %s.", h.Legs, math.Abs(h.Tightness.Point), moreOrLess(h.Tightness.Point)), m.examples(signs.TapeShifted)))
		}
	}
	for _, s := range m.Signs {
		point := strings.TrimPrefix(s.Sign, signs.Girth)
		if !s.StandsOut || slices.ContainsFunc(m.TEM, func(r repeatability.Measured) bool { return r.Point == point && r.Within == "yes" }) {
			continue
		}
		switch v := s.Value.Point; {
		case s.Sign == signs.RoundedOff && v > 0:
			add(s.Sign, Work{Title: "Read the tape to the last mark", Seen: s.Says, Forms: s.Examples,
				How: "Read the finest mark that the tape shows, and write it as it is: a fitter can round, but can't get back what was rounded off."})
		case s.Sign == signs.SidesAlike && v > 0:
			add("sides-copied", Work{Title: "Measure both sides", Seen: s.Says, Lesson: "sides-copied", Forms: s.Examples})
		case s.Sign == signs.TapeHeight:
			add(s.Sign, heightWork(v, s.Says, s.Examples))
		case s.Sign == signs.TapeShifted:
			add(s.Sign, tightWork(v, s.Says, s.Examples))
		case strings.HasPrefix(s.Sign, signs.Girth) && !had[signs.TapeShifted]:
			add(signs.TapeShifted, Work{Title: "Where the tape lies at the " + point, Seen: s.Says, Lesson: "tape-marks-missing", Forms: s.Examples,
				How: "Mark on the tracing where the tape lay, at both edges, before you take it away. The mark says what the number was of."})
		}
	}
	return out
}

// examples are forms that show a sign, where it stands out.
func (m Measurer) examples(sign string) []string {
	for _, s := range m.Signs {
		if s.Sign == sign {
			return s.Examples
		}
	}
	return nil
}

func heightWork(up float64, seen string, forms []string) Work {
	return Work{Title: "The height of the tape on the leg", Seen: seen, Forms: forms,
		How: fmt.Sprintf("Measure every height from the floor with a stiff rule, mark all of them on the leg first, and lay the tape on the marks: yours lies too %s.", map[bool]string{true: "high", false: "low"}[up > 0])}
}

func tightWork(more float64, seen string, forms []string) Work {
	how := "Snug, not tight: the tape touches all round and the skin is not dented. Read it from its start line."
	if more > 0 {
		how = "Snug, not loose: the tape touches all round and would slide only with a little pull. Read it from its start line."
	}
	return Work{Title: "How tight the tape is, and where it is read", Seen: seen, How: how, Lesson: "tape-zero-missed", Forms: forms}
}

func upOrDown(mm float64) string {
	if mm > 0 {
		return "higher"
	}
	return "lower"
}

func moreOrLess(mm float64) string {
	if mm > 0 {
		return "more"
	}
	return "less"
}

// faultRate is the highest false discovery rate of a fault that stands out.
const faultRate = 0.1

// StandingOut are the faults that a measurer's forms have more often than can well be
// chance and than others' forms for such boots, by how much more.
func (m Measurer) StandingOut() []FaultRate {
	out := slices.DeleteFunc(slices.Clone(m.Faults), func(f FaultRate) bool {
		return !(strings.HasPrefix(f.Outside, "above") && f.QValue.Given() && float64(f.QValue) <= faultRate && f.Rate.Point > f.Expected.Point)
	})
	slices.SortStableFunc(out, func(a, b FaultRate) int {
		return cmp.Compare(b.Rate.Point-b.Expected.Point, a.Rate.Point-a.Expected.Point)
	})
	return out
}

// DoneWell are the faults that a measurer's forms have less often than others' forms for
// such boots, beyond chance, the largest difference first.
func (m Measurer) DoneWell() []FaultRate {
	out := slices.DeleteFunc(slices.Clone(m.Faults), func(f FaultRate) bool {
		return !(f.Rate.Bounded() && f.Expected.Given() && f.Rate.High < f.Expected.Point)
	})
	slices.SortStableFunc(out, func(a, b FaultRate) int {
		return cmp.Compare(b.Expected.Point-b.Rate.Point, a.Expected.Point-a.Rate.Point)
	})
	return out
}
