package sheet

import (
	"errors"
	"fmt"
	"html/template"
	"io"

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
		return l.Say(key, "points", page.Fixed(100*sign*e.Point, 1), "low", page.Fixed(100*low, 1), "high", page.Fixed(100*high, 1),
			"level", page.Fixed(100*e.Level, 0), "n", page.Thousands(e.N), "method", e.Method)
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
	legAt := func(inches float64) string { return l.Say("leg", "height", form.Inch.Text(inches*form.Inch.MM())) }
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
		return drawForm(row(l.Say("ball"), "9 7/8", "10"), row(l.Say("instep"), "10", "10 1/8"), row(l.Say("heel"), "13 3/8", "13 1/2"), row(legAt(11), "11 1/4", "11 3/8")),
			drawForm(row(l.Say("ball"), "10 3/8", "10 1/2", 1, 2), row(l.Say("instep"), "10 1/2", "10 5/8", 1, 2), row(l.Say("heel"), "13 7/8", "14", 1, 2), row(legAt(11), "11 3/4", "11 7/8", 1, 2))
	case "foot-girth-missing":
		return drawForm(row(l.Say("ball"), "9 7/8", "10"), row(l.Say("instep"), "10", "10 1/8"), row(l.Say("heel"), "13 3/8", "13 1/2")),
			drawForm(row(l.Say("ball"), "9 7/8", "10"), row(l.Say("instep"), "10", "", 2), row(l.Say("heel"), "13 3/8", "13 1/2"))
	case "leg-height-missing":
		return drawLeg(s, heights, nil, false), drawLeg(s, heights, map[int]bool{2: true}, false)
	case "tucked-set-skipped":
		return drawLeg(s, heights, nil, true), drawLeg(s, heights, map[int]bool{0: true, 1: true, 2: true, 3: true, 4: true}, true)
	case "self-measured":
		return drawPeople(true), drawPeople(false)
	case "sides-copied":
		return drawForm(row(l.Say("ball"), "9 7/8", "10"), row(l.Say("instep"), "10", "10 1/8"), row(l.Say("heel"), "13 3/8", "13 3/8")),
			drawForm(row(l.Say("ball"), "9 7/8", "9 7/8", 2), row(l.Say("instep"), "10", "10", 2), row(l.Say("heel"), "13 3/8", "13 3/8", 2))
	case "unit-mixed":
		return drawForm(row(l.Say("ball"), "9 7/8", "10"), row(legAt(13), "14 5/8", "14 3/4")),
			drawForm(row(l.Say("ball"), "9 7/8", "10"), row(legAt(13), "14 5/8", "37.5", 2))
	case "value-implausible":
		return drawForm(row(legAt(9), "11 1/4", "11 3/8"), row(legAt(11), "13 1/2", "13 5/8"), row(legAt(13), "14 3/4", "14 3/4")),
			drawForm(row(legAt(9), "11 1/4", "11 3/8"), row(legAt(11), "13 1/2", "31 5/8", 2), row(legAt(13), "14 3/4", "14 3/4"))
	case "orthotic-undiscussed":
		return drawInsert(l.Say("insert_asked")), drawInsert("…")
	}
	return "", ""
}
