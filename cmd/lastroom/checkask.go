package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

func sortedKeys[T any](m map[string]T) []string { return slices.Sorted(maps.Keys(m)) }

// form asks for one form: the order, what was noted, and the numbers in the
// order of the paper form.
func (q *questions) form(s form.Scheme) (typedForm, error) {
	t := typedForm{Order: map[string]string{}, Form: map[string]string{}}
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

func (q *questions) orderQuestions(t *typedForm) []question {
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

func (q *questions) shaft(t *typedForm, s string) {
	delete(t.Order, "shaft_height_mm")
	if mm, err := lengths.Parse(s, q.unit, lengths.Options{DecimalComma: true}); err == nil {
		t.Order["shaft_height_mm"] = fmt.Sprint(mm)
	}
}

func noteQuestions(t *typedForm) (list []question) {
	for _, n := range form.Marks {
		list = append(list, question{label: "  " + n.Label + " (yes, no)", check: oneOf("yes", "no", "y", "n"),
			into: func(s string) { t.Form[n.Column] = s },
			when: func() bool { return n.Column != "orthotic_discussed" || t.Order["orthotic"] == "yes" }})
	}
	return list
}

// numberQuestions go as the paper form does: the foot, then the leg upwards,
// left before right; then the same leg over the trousers.
func (q *questions) numberQuestions(t *typedForm, s form.Scheme) (list []question) {
	typed := map[int]typedNumber{}
	both := func(place form.Place, label string) {
		for _, place.Side = range form.Sides {
			at, n := len(list), typedNumber{Place: place, Unit: q.unit}
			list = append(list, question{label: "  " + n.Side.String() + " " + label, check: q.length, into: func(v string) {
				n.Value = v
				typed[at] = n
				t.Numbers = t.Numbers[:0]
				for _, k := range slices.Sorted(maps.Keys(typed)) {
					if typed[k].Value != "" {
						t.Numbers = append(t.Numbers, typed[k])
					}
				}
			}})
		}
	}
	for _, point := range form.Points {
		if point != form.Leg && (point != form.Ankle || s.AnkleGirth != form.NoAnkle) {
			both(form.Place{Point: point}, point.String())
		}
	}
	var shaft float64
	fmt.Sscan(t.Order["shaft_height_mm"], &shaft)
	for _, c := range form.Clothings {
		if c == form.Tucked && t.Order["worn_tucked"] != "yes" {
			continue
		}
		for _, h := range s.Heights(shaft) {
			label := "leg at " + q.unit.Text(float64(h))
			if c == form.Tucked {
				label += ", over trousers"
			}
			both(form.Place{Clothing: c, Point: form.Leg, HeightMM: h}, label)
		}
	}
	return list
}
