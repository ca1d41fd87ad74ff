// Package asking asks for a form at a terminal, line by line, with the way back to the
// answer before.
package asking

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/ingest/lengths"
	"lastroom/ingest/typed"
)

// questions asks for a form at a terminal. An empty answer is "not there"; "<"
// goes back to mend the answer before.
type questions struct {
	in   *bufio.Scanner
	out  io.Writer
	unit form.Unit
}

// A question has a label, a check of its answer, and a place for it. It may be
// left out depending on answers before.
type question struct {
	label string
	check func(string) error
	into  func(string)
	when  func() bool
}

// Form asks for one form: the order, what was noted, and the numbers in the
// order of the paper form. Answers are read from in, a line each.
func Form(in io.Reader, out io.Writer, s form.Scheme) (typed.Form, error) {
	q := &questions{in: bufio.NewScanner(in), out: out}
	t := typed.Form{Order: map[string]string{}, Form: map[string]string{}}
	fmt.Fprint(q.out, "One form, line by line. Enter alone: not there or not known. A single < : back, to mend the answer before.\n\nThe order\n")
	q.unit = form.Inch
	if err := q.all(q.orderQuestions(&t)); err != nil {
		return t, err
	}
	fmt.Fprint(q.out, "\nWhat was noted on the form\n")
	if err := q.all(noteQuestions(&t)); err != nil {
		return t, err
	}
	fmt.Fprintf(q.out, "\nThe numbers, in %s unless you write a unit (14 5/8, 37.2 cm)\n", q.unit)
	return t, q.all(q.numberQuestions(&t, s))
}

func (q *questions) orderQuestions(t *typed.Form) []question {
	list := []question{
		{label: "  unit of the form (in, cm, mm; alone: in)", check: oneOf(form.Texts(form.Units)...), into: func(s string) {
			q.unit = form.Inch
			if u, ok := form.ParseUnit(s); ok && s != "" {
				q.unit = u
			}
		}},
		{label: "  top of the boot above the floor", check: q.length, into: func(s string) { q.shaft(t, s) }},
	}
	for _, x := range desk.Questions {
		list = append(list, question{label: fmt.Sprintf("  %s (%s)", x.Label, strings.Join(x.Answers, ", ")), check: oneOf(x.Answers...),
			into: func(s string) { t.Order[x.Column] = strings.ToLower(s) }})
	}
	return list
}

func (q *questions) shaft(t *typed.Form, s string) {
	delete(t.Order, "shaft_height_mm")
	if mm, err := lengths.Parse(s, q.unit, lengths.Options{DecimalComma: true}); err == nil {
		t.Order["shaft_height_mm"] = fmt.Sprint(mm)
	}
}

func noteQuestions(t *typed.Form) (list []question) {
	for _, n := range form.Marks {
		list = append(list, question{label: "  " + n.Label + " (yes, no)", check: oneOf("yes", "no", "y", "n"),
			into: func(s string) { t.Form[n.Column] = s },
			when: func() bool { return n.Column != "orthotic_discussed" || t.Order["orthotic"] == "yes" }})
	}
	return list
}

// numberQuestions go as the paper form does: the foot, then the leg upwards,
// left before right; then the same leg over the trousers.
func (q *questions) numberQuestions(t *typed.Form, s form.Scheme) (list []question) {
	answers := map[int]map[string]string{} // by question
	both := func(place form.Place, label string) {
		for _, place.Side = range form.Sides {
			at, place := len(list), place
			list = append(list, question{label: "  " + place.Side.String() + " " + label, check: q.length, into: func(value string) {
				delete(answers, at)
				if value != "" {
					answers[at] = judging.TypedNumber(place, value, q.unit)
				}
				t.Numbers = t.Numbers[:0]
				for _, k := range slices.Sorted(maps.Keys(answers)) {
					t.Numbers = append(t.Numbers, answers[k])
				}
			}})
		}
	}
	for _, point := range form.Points {
		if point != form.Leg && (point != form.Ankle || s.AnkleGirth != form.NoAnkle) {
			both(form.Place{Point: point}, point.String())
		}
	}
	shaft, _ := strconv.ParseFloat(t.Order["shaft_height_mm"], 64) // not known: no heights
	for _, clothing := range form.Clothings {
		if clothing == form.Tucked && t.Order["worn_tucked"] != "yes" {
			continue
		}
		for _, h := range s.Heights(shaft) {
			label := "leg at " + q.unit.Text(float64(h))
			if clothing == form.Tucked {
				label += ", over trousers"
			}
			both(form.Place{Clothing: clothing, Point: form.Leg, HeightMM: h}, label)
		}
	}
	return list
}

var (
	errBack  = errors.New("back")
	errEnded = workshop.BadInput(errors.New("the input ended before the form was whole; nothing was checked"))
)

// all asks the questions in turn, each until its answer is good; "<" goes back
// to the one before.
func (q *questions) all(list []question) error {
	for i := 0; i < len(list); {
		if list[i].when != nil && !list[i].when() {
			i++
			continue
		}
		s, err := q.ask(list[i].label)
		if errors.Is(err, errBack) {
			for i = max(0, i-1); i > 0 && list[i].when != nil && !list[i].when(); {
				i--
			}
			continue
		}
		if err != nil {
			return err
		}
		if s != "" {
			if err := list[i].check(s); err != nil {
				fmt.Fprintf(q.out, "  %q %s; again, please\n", s, err)
				continue
			}
		}
		list[i].into(s)
		i++
	}
	return nil
}

// ask asks once and reads a line.
func (q *questions) ask(label string) (string, error) {
	fmt.Fprintf(q.out, "%s: ", label)
	if !q.in.Scan() {
		fmt.Fprintln(q.out)
		return "", errors.Join(errEnded, q.in.Err())
	}
	s := strings.TrimSpace(q.in.Text())
	if s == "<" {
		return "", errBack
	}
	return s, nil
}

// oneOf checks that an answer is one of some words.
func oneOf(words ...string) func(string) error {
	return func(s string) error {
		if slices.ContainsFunc(words, func(w string) bool { return strings.EqualFold(s, w) }) {
			return nil
		}
		return fmt.Errorf("is none of %s", strings.Join(words, ", "))
	}
}

func (q *questions) length(s string) error {
	_, err := lengths.Parse(s, q.unit, lengths.Options{DecimalComma: true})
	return err
}
