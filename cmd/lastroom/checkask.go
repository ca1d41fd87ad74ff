package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"lastroom/ingest/lengths"
	"lastroom/reports/letter"
)

func sortedKeys[T any](m map[string]T) []string { return slices.Sorted(maps.Keys(m)) }

// form asks for one form: the order, what was noted, and the numbers in the
// order of the paper form.
func (q *questions) form(s scheme) (typedForm, error) {
	t := typedForm{Order: map[string]string{}, Form: map[string]string{}}
	fmt.Fprint(q.out, "One form, line by line. Enter alone: not there or not known. A single < : back, to mend the answer before.\n\nThe order\n")
	q.unit = lengths.In
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
	choose := func(label, column string, words ...string) question {
		return question{label: fmt.Sprintf("  %s (%s)", label, strings.Join(words, ", ")), check: oneOf(words...),
			into: func(s string) { t.Order[column] = strings.ToLower(s) }}
	}
	return []question{
		{label: "  unit of the form (in, cm, mm; alone: in)", check: oneOf("in", "cm", "mm"), into: func(s string) {
			q.unit = lengths.In
			if u, ok := lengths.ParseUnit(strings.ToLower(s)); ok && s != "" {
				q.unit = u
			}
		}},
		{label: "  top of the boot above the floor", check: q.length, into: func(s string) { q.shaft(t, s) }},
		choose("closure", "closure", "pull-on", "lace-up"),
		choose("trousers inside the boot", "worn_tucked", "yes", "no"),
		choose("sock", "sock", "thin", "medium", "thick"),
		choose("orthotic", "orthotic", "yes", "no"),
		choose("who measured", "channel", "home", "dealer", "shop"),
		choose("range to judge by", "sex", "f", "m"),
	}
}

func (q *questions) shaft(t *typedForm, s string) {
	delete(t.Order, "shaft_height_mm")
	if mm, err := lengths.Parse(s, q.unit, lengths.Options{DecimalComma: true}); err == nil {
		t.Order["shaft_height_mm"] = fmt.Sprint(mm)
	}
}

// notes are the yes-or-no columns of the forms sheet, as the desk asks for them.
var notes = []struct{ column, label string }{
	{"outline_closed_left", "left outline without a gap"}, {"outline_closed_right", "right outline without a gap"},
	{"outline_single_left", "left outline one line only"}, {"outline_single_right", "right outline one line only"},
	{"ball_mark_left", "left ball mark on the tracing"}, {"ball_mark_right", "right ball mark on the tracing"},
	{"instep_mark_left", "left instep mark on the tracing"}, {"instep_mark_right", "right instep mark on the tracing"},
	{"tape_zero_used", "tape read from its start line"}, {"self_measured", "the wearer taped themselves"},
	{"orthotic_discussed", "orthotic talked over"},
}

func noteQuestions(t *typedForm) (list []question) {
	for _, n := range notes {
		list = append(list, question{label: "  " + n.label + " (yes, no)", check: oneOf("yes", "no", "y", "n"),
			into: func(s string) { t.Form[n.column] = s },
			when: func() bool { return n.column != "orthotic_discussed" || t.Order["orthotic"] == "yes" }})
	}
	return list
}

// numberQuestions go as the paper form does: the foot, then the leg upwards,
// left before right; then the same leg over the trousers.
func (q *questions) numberQuestions(t *typedForm, s scheme) (list []question) {
	places := map[int]typedNumber{}
	add := func(n typedNumber, label string) {
		at := len(list)
		n.Unit = q.unit.String()
		list = append(list, question{label: "  " + n.Side + " " + label, check: q.length, into: func(v string) {
			n.Value = v
			places[at] = n
			t.Numbers = t.Numbers[:0]
			for _, k := range slices.Sorted(maps.Keys(places)) {
				if places[k].Value != "" {
					t.Numbers = append(t.Numbers, places[k])
				}
			}
		}})
	}
	both := func(n typedNumber, label string) {
		for _, n.Side = range []string{"left", "right"} {
			add(n, label)
		}
	}
	for _, point := range []string{"length", "breadth", "ball", "instep", "heel", "ankle", "calf"} {
		if point != "ankle" || s.ankle {
			both(typedNumber{Clothing: "bare", Point: point}, point)
		}
	}
	var shaft float64
	fmt.Sscan(t.Order["shaft_height_mm"], &shaft)
	clothes := []string{"bare"}
	if t.Order["worn_tucked"] == "yes" {
		clothes = append(clothes, "tucked")
	}
	for _, c := range clothes {
		for _, h := range s.heights(shaft) {
			label := "leg at " + letter.Length(h, q.unit.String())
			if c == "tucked" {
				label += ", over trousers"
			}
			both(typedNumber{Clothing: c, Point: "leg", Height: fmt.Sprint(h), HeightUnit: "mm"}, label)
		}
	}
	return list
}
