package sheet

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
	"lastroom/reports/words"
)

// A Lesson is the teaching sheet of a fault. Own is what the shop's own orders
// show of it, as a difference of remake shares; one without a method is left
// out.
type Lesson struct {
	Fault string // its id
	Own   stats.Estimate
}

type lessonPage struct {
	Title, RightTitle, WrongTitle                      string
	Right, Wrong                                       template.HTML
	LooksTitle, Looks, WhyTitle, Why, Own, DoTitle, Do string
}

// Teach writes a page for each lesson as one HTML file.
func Teach(w io.Writer, l *words.Language, lessons []Lesson, paper Paper, scheme form.Scheme) error {
	if len(lessons) == 0 {
		return errors.New("no fault to print a teaching sheet for")
	}
	v := newView(l, paper, "teaching")
	for _, one := range lessons {
		if _, ok := form.FaultIndex(one.Fault); !ok {
			return fmt.Errorf("there is no fault %q", one.Fault)
		}
		say := func(part string) string { return l.Say(one.Fault + "_" + part) }
		p := lessonPage{Title: say("title"), RightTitle: l.Say("drawn_right"), WrongTitle: l.Say("drawn_wrong"), LooksTitle: l.Say("looks"), Looks: say("looks"),
			WhyTitle: l.Say("why"), Why: say("why"), DoTitle: l.Say("do"), Do: say("do")}
		p.Right, p.Wrong = drawFault(l, one.Fault, scheme)
		p.Own = own(l, one.Own)
		v.Lessons = append(v.Lessons, p)
	}
	return v.write(w)
}

// own says what the shop's own orders show: more or fewer remakes with the fault,
// or that it is not clear yet. "" where nothing was looked for.
func own(l *words.Language, e stats.Estimate) string {
	fill := func(key string, sign float64, low, high float64) string {
		tenths := func(x float64) string { return l.Number(page.Fixed(x, 1)) }
		return l.Say(key, "points", tenths(100*sign*e.Point), "low", tenths(100*low), "high", tenths(100*high),
			"level", page.Fixed(100*e.Level, 0), "n", page.Thousands(e.N))
	}
	switch {
	case e.Method == "":
		return ""
	case !e.Given() || !e.Bounded():
		return l.Say("own_few")
	case e.Low > 0:
		return fill("own", 1, e.Low, e.High)
	case e.High < 0:
		return fill("own_fewer", -1, -e.High, -e.Low)
	}
	return fill("own_unclear", 1, e.Low, e.High)
}

// drawFault draws a fault right and wrong. The numbers in the drawn forms are
// made up.
func drawFault(l *words.Language, id string, s form.Scheme) (right, wrong template.HTML) {
	row := func(name, left, rightText string, odd ...int) (out [3]cell) {
		out = [3]cell{{name, false}, {left, false}, {rightText, false}}
		for _, k := range odd {
			out[k].odd = true
		}
		return out
	}
	unit := UnitOf(l)
	length := func(inches float64) string { return l.Number(unit.Text(inches * form.Inch.MM())) }
	legAt := func(inches float64) string { return l.Say("leg", "height", length(inches)) }
	bare := func(inches float64) string { return strings.TrimSuffix(length(inches), " "+unit.String()) }
	pair := func(name string, left, right float64, odd ...int) [3]cell {
		return row(name, bare(left), bare(right), odd...)
	}
	otherUnit, swapped := "37.5", "31 5/8"
	if unit == form.Centimetre {
		otherUnit, swapped = "14 3/4", l.Number("43.6")
	} else if unit == form.Millimetre {
		otherUnit, swapped = "14 3/4", "436"
	}
	heights := s.Heights(s.FirstMM + 4*s.StepMM)
	switch id {
	case "tape-marks-missing":
		return drawTracing(tracing{marks: true}), drawTracing(tracing{oneMark: true})
	case "outline-broken":
		return drawTracing(tracing{marks: true}), drawTracing(tracing{marks: true, gap: true})
	case "outline-doubled":
		return drawTracing(tracing{marks: true}), drawTracing(tracing{marks: true, double: true})
	case "tape-zero-missed":
		return drawTape(true), drawTape(false)
	case "tape-zero-shown":
		return drawForm(pair(l.Say("ball"), 9.875, 10), pair(l.Say("instep"), 10, 10.125), pair(l.Say("heel"), 13.375, 13.5), pair(legAt(11), 11.25, 11.375)),
			drawForm(pair(l.Say("ball"), 10.375, 10.5, 1, 2), pair(l.Say("instep"), 10.5, 10.625, 1, 2), pair(l.Say("heel"), 13.875, 14, 1, 2), pair(legAt(11), 11.75, 11.875, 1, 2))
	case "foot-girth-missing":
		return drawForm(pair(l.Say("ball"), 9.875, 10), pair(l.Say("instep"), 10, 10.125), pair(l.Say("heel"), 13.375, 13.5)),
			drawForm(pair(l.Say("ball"), 9.875, 10), row(l.Say("instep"), bare(10), "", 2), pair(l.Say("heel"), 13.375, 13.5))
	case "leg-height-missing":
		return drawLeg(s, heights, nil, false), drawLeg(s, heights, map[int]bool{2: true}, false)
	case "tucked-set-skipped":
		return drawLeg(s, heights, nil, true), drawLeg(s, heights, map[int]bool{0: true, 1: true, 2: true, 3: true, 4: true}, true)
	case "self-measured":
		return drawPeople(true), drawPeople(false)
	case "sides-copied":
		return drawForm(pair(l.Say("ball"), 9.875, 10), pair(l.Say("instep"), 10, 10.125), pair(l.Say("heel"), 13.375, 13.375)),
			drawForm(pair(l.Say("ball"), 9.875, 9.875, 2), pair(l.Say("instep"), 10, 10, 2), pair(l.Say("heel"), 13.375, 13.375, 2))
	case "unit-mixed":
		return drawForm(pair(l.Say("ball"), 9.875, 10), pair(legAt(13), 14.625, 14.75)),
			drawForm(pair(l.Say("ball"), 9.875, 10), row(legAt(13), bare(14.625), otherUnit, 2))
	case "value-implausible":
		return drawForm(pair(legAt(9), 11.25, 11.375), pair(legAt(11), 13.5, 13.625), pair(legAt(13), 14.75, 14.75)),
			drawForm(pair(legAt(9), 11.25, 11.375), row(legAt(11), bare(13.5), swapped, 2), pair(legAt(13), 14.75, 14.75))
	case "orthotic-undiscussed":
		return drawInsert(l.Say("insert_asked")), drawInsert("…")
	}
	return "", ""
}
