package formdesk

import (
	"slices"

	"lastroom/analysis/desk"
	"lastroom/analysis/form"
)

// A change is one thing that is otherwise on another form.
type change struct {
	What    string
	Was, Is said
}

// A said is what a form says; Own where somebody chose the words.
type said struct {
	Text string
	Own  bool
}

// compare says what is otherwise on a form than on one before: facts first, then
// numbers, foot before leg.
func compare(was, is Form) (out []change) {
	differs := func(what, a, b string, own bool) {
		if a != b {
			out = append(out, change{what, orNone(a, own), orNone(b, own)})
		}
	}
	add := func(what, a, b string) { differs(what, a, b, false) }
	differs("customer", was.Customer, is.Customer, true)
	add("came on", was.Received, is.Received)
	differs("measurer", was.Measurer, is.Measurer, true)
	add("shaft height", withUnit(was.Shaft, was.ShaftUnit), withUnit(is.Shaft, is.ShaftUnit))
	for _, q := range desk.Questions {
		add(q.Label, was.Order[q.Column], is.Order[q.Column])
	}
	for _, m := range form.Marks {
		add(m.Label, was.Marks[m.Column], is.Marks[m.Column])
	}
	differs("irregularities", was.Irregularities, is.Irregularities, true)
	var places []form.Place
	at := func(f Form) map[form.Place]string {
		by := map[form.Place]string{}
		for _, n := range f.Numbers {
			by[n.Place] = withUnit(n.Value, f.Unit)
			if !slices.Contains(places, n.Place) {
				places = append(places, n.Place)
			}
		}
		return by
	}
	a, b := at(was), at(is)
	slices.SortFunc(places, form.ComparePlaces)
	for _, p := range places {
		add(placeName(p), a[p], b[p])
	}
	return out
}

func withUnit(value string, unit form.Unit) string {
	if value == "" {
		return ""
	}
	return value + " " + unit.String()
}

func orNone(s string, own bool) said {
	if s == "" {
		return said{"not known", false}
	}
	return said{s, own}
}

// placeName names a place as the page's table does.
func placeName(p form.Place) string {
	name := p.Point.String()
	if p.HeightMM > 0 {
		name = "leg at " + p.HeightMM.String()
	}
	name = p.Side.String() + " " + name
	if p.Clothing == form.Tucked {
		name += ", over trousers"
	}
	return name
}
