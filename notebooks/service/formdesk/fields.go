package formdesk

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"lastroom/analysis/desk"
	"lastroom/analysis/form"
)

// The names of fields that are no number of the form and no question of it.
const (
	FieldOrder     = "order_id"
	FieldForm      = "form_id"
	FieldCustomer  = "customer_id"
	FieldReceived  = "received_on"
	FieldMeasurer  = "measurer_id"
	FieldShaft     = "shaft"
	FieldShaftUnit = "shaft_unit"
	FieldUnit      = "unit"
	FieldNotes     = "irregularities"
)

// A field is one that is typed into.
type field struct {
	Name, Label, Value, Says string
	Size                     int
	Decimal, Focus           bool
}

// A choice is a question of the form with its answers.
type choice struct {
	Name, Label string
	Value       string
	Answers     []string // the first is what holds when nothing is said
}

// A row is one line of the table of numbers.
type row struct {
	Label string
	Cells []cell
}

type cell struct {
	Field, Label, Value, Says string
	Column                    string
	None                      bool // no such number
}

// Fields are the page's form with what was typed.
type fields struct {
	IDs   []field
	Shaft field
	Boot  []choice
	Marks []choice
	Rows  []row
	Notes field
}

// notKnown is the answer that holds where nothing is said.
const notKnown = "unknown"

// FieldOf is the name of the field of a number.
func FieldOf(p form.Place) string {
	suffix := ""
	if p.HeightMM > 0 {
		suffix = "-" + strings.TrimSuffix(p.HeightMM.String(), " in")
	}
	return strings.ReplaceAll(fmt.Sprintf("n-%s-%s-%s%s", p.Side, p.Clothing, p.Point, suffix), " ", "_")
}

// fieldsOf reads the page's form.
func fieldsOf(v url.Values, heights []form.Height) (fields, Form) {
	get := func(name string) string { return strings.Join(strings.Fields(v.Get(name)), " ") }
	var p fields
	for _, f := range []field{{Name: FieldOrder, Label: "order", Size: 12}, {Name: FieldCustomer, Label: "customer", Size: 12}, {Name: FieldForm, Label: "form", Size: 12},
		{Name: FieldReceived, Label: "came on (year-month-day)", Size: 11}, {Name: FieldMeasurer, Label: "measurer, by the shop's list", Size: 10}} {
		f.Value = get(f.Name)
		p.IDs = append(p.IDs, f)
	}
	p.Shaft = field{Name: FieldShaft, Label: "shaft height", Value: get(FieldShaft), Size: 6, Decimal: true}
	p.Notes = field{Name: FieldNotes, Label: "irregularities", Value: get(FieldNotes), Size: 40}
	units, boot, marks := choices(v)
	p.Boot, p.Marks = append(units, boot...), marks
	f := Form{ID: get(FieldForm), OrderID: get(FieldOrder), Customer: get(FieldCustomer), Received: isoDay(get(FieldReceived)), Measurer: get(FieldMeasurer),
		Shaft: p.Shaft.Value, Order: answered(boot), Marks: answered(marks), Irregularities: p.Notes.Value}
	f.ShaftUnit, _ = form.ParseUnit(units[0].Value)
	f.Unit, _ = form.ParseUnit(units[1].Value)
	add := func(label string, at form.Place) {
		r := row{Label: label}
		for _, at.Clothing = range form.Clothings {
			for _, at.Side = range form.Sides {
				c := cell{Field: FieldOf(at), Label: fmt.Sprintf("%s, %s, %s", label, at.Side, at.Clothing), None: at.Clothing == form.Tucked && !at.Point.OverTrousers()}
				c.Value, c.Column = get(c.Field), at.Side.String()
				if at.Clothing == form.Tucked {
					c.Column += ", over trousers"
				}
				r.Cells = append(r.Cells, c)
				if c.Value != "" && !c.None {
					f.Numbers = append(f.Numbers, Number{at, c.Value})
				}
			}
		}
		p.Rows = append(p.Rows, r)
	}
	for _, point := range form.Points {
		if point != form.Leg {
			add(point.String(), form.Place{Point: point})
			continue
		}
		for _, h := range heights {
			add("leg at "+h.String(), form.Place{Point: point, HeightMM: h})
		}
	}
	return p, f
}

// valuesOf is a form as the page sends it: fieldsOf the other way round.
func valuesOf(f Form) url.Values {
	v := url.Values{FieldForm: {f.ID}, FieldOrder: {f.OrderID}, FieldCustomer: {f.Customer}, FieldReceived: {f.Received}, FieldMeasurer: {f.Measurer},
		FieldShaft: {f.Shaft}, FieldNotes: {f.Irregularities}, FieldShaftUnit: {f.ShaftUnit.String()}, FieldUnit: {f.Unit.String()}}
	for _, cells := range []map[string]string{f.Order, f.Marks} {
		for name, answer := range cells {
			v.Set(name, answer)
		}
	}
	for _, n := range f.Numbers {
		v.Set(FieldOf(n.Place), n.Value)
	}
	return v
}

// choices are the questions of the page with what was answered.
func choices(v url.Values) (units, boot, marks []choice) {
	chosen := func(name, label string, answers ...string) choice {
		c := choice{Name: name, Label: label, Answers: answers, Value: v.Get(name)}
		if !slices.Contains(answers, c.Value) {
			c.Value = answers[0]
		}
		return c
	}
	inchFirst := []string{form.Inch.String(), form.Centimetre.String(), form.Millimetre.String()}
	units = []choice{chosen(FieldShaftUnit, "unit of the shaft", inchFirst...), chosen(FieldUnit, "unit of the numbers", inchFirst...)}
	for _, q := range desk.Questions {
		boot = append(boot, chosen(q.Column, q.Label, append([]string{notKnown}, q.Answers...)...))
	}
	for _, m := range form.Marks {
		marks = append(marks, chosen(m.Column, m.Label, append([]string{notKnown}, desk.YesNo...)...))
	}
	return units, boot, marks
}

// answered are the answers by column, "" where it is not known.
func answered(list []choice) map[string]string {
	out := map[string]string{}
	for _, c := range list {
		if out[c.Name] = c.Value; c.Value == notKnown {
			out[c.Name] = ""
		}
	}
	return out
}

// say puts words beside their fields.
func (p *fields) say(says map[string]string) {
	for i := range p.IDs {
		p.IDs[i].Says = says[p.IDs[i].Name]
	}
	p.Shaft.Says, p.Notes.Says = says[FieldShaft], says[FieldNotes]
	for i := range p.Rows {
		for j := range p.Rows[i].Cells {
			p.Rows[i].Cells[j].Says = says[p.Rows[i].Cells[j].Field]
		}
	}
}

// isoDay is a day as the book writes it; 27.11.2026, as German pages print days and
// German hands write them, can be no other. Any other text stays, to be told what is wrong.
func isoDay(text string) string {
	if t, err := time.Parse("2.1.2006", text); err == nil {
		return t.Format(time.DateOnly)
	}
	return text
}
