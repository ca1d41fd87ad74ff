package sheet

import (
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"

	"github.com/boombuler/barcode/datamatrix"

	"lastroom/analysis/form"
	"lastroom/reports/page"
	"lastroom/reports/translation"
	"lastroom/reports/words"
)

var (
	//go:embed sheet.tmpl
	pageText string
	//go:embed sheet.css
	style string

	pages = template.Must(template.New("sheet").Parse(pageText))
)

// Words are the sheets' texts in the languages that come with the program. Which paper
// and unit a language is printed for is one of its texts.
var Words = &words.Catalogue{Files: translation.Keyed("sheet"), Choices: map[string][]string{
	"paper": PaperNames(), "unit": {form.Inch.String(), form.Centimetre.String(), form.Millimetre.String()},
}}

// UnitOf is the unit that a language's printed matter is written in.
func UnitOf(l *words.Language) form.Unit {
	u, _ := form.ParseUnit(l.Say("unit"))
	return u
}

// Versions are the letters of the instructions. Which one a form was measured
// with is printed on it and in its code, so that versions can be compared by
// the faults of their forms.
var Versions = []string{"A", "B"}

// An Order is what a measuring sheet is made for. Form, Number and Name may be
// empty: there is a line to write them on.
type Order struct {
	Form, Number, Name string
	ShaftMM            float64
	Tucked             bool // trousers will be worn inside: a second set of boxes
}

// A Layout says how sheets are printed.
type Layout struct {
	Paper   Paper
	Unit    form.Unit
	Scheme  form.Scheme
	Version string // one of Versions
}

// calfFrom is the shaft from which the largest girth of the calf is asked for: a
// lower boot ends under it (judgement).
const calfFrom = 279.4

// places are the points of an order that need a number, each on both sides.
func (o Order) places(s form.Scheme) (out []form.Place) {
	for _, p := range form.FootGirths {
		out = append(out, form.Place{Point: p})
	}
	if s.AnkleGirth != form.NoAnkle {
		out = append(out, form.Place{Point: form.Ankle})
	}
	if o.ShaftMM >= calfFrom {
		out = append(out, form.Place{Point: form.Calf})
	}
	for _, h := range s.Heights(o.ShaftMM) {
		out = append(out, form.Place{Point: form.Leg, HeightMM: h})
	}
	return out
}

// A view is what the template of all sheets sees.
type view struct {
	Lang, Direction, Title string
	Style                  template.CSS
	Policy                 string
	Feet                   []footPage
	Numbers                []numbersPage
	Hows                   []howPage
	Lessons                []lessonPage
	// Order is in which the pages of the forms follow one another.
	Forms []int
}

type head struct {
	Title, Form, Number, Name, Version string
	FormLabel, NumberLabel, NameLabel  string
	Code                               template.HTML
}

type footPage struct {
	head
	Drawing, Sample, Bar template.HTML
	Steps, Ticks         []string
	BarText, Longest     string
}

type numbersPage struct {
	head
	Where, Unit string
	Columns     []string
	Rows        []numbersRow
}

type numbersRow struct {
	Drawing   template.HTML
	Name, How string
	Boxes     []struct{}
}

type howPage struct {
	head
	Steps, Ticks, Cautions       []string
	TicksTitle, MindTitle        string
	MeasuredOn, MeasuredBy, Back string
}

// Print writes the measuring sheets of orders as one HTML file, four pages each.
func Print(w io.Writer, l *words.Language, orders []Order, lay Layout) error {
	if len(orders) == 0 {
		return errors.New("no order to print a sheet for")
	}
	v := newView(l, lay.Paper, "title")
	for _, o := range orders {
		for _, side := range form.Sides {
			foot, err := footOf(l, o, lay, side)
			if err != nil {
				return err
			}
			v.Feet = append(v.Feet, foot)
		}
		h, err := headOf(l, o, lay.Version, "numbers", "N")
		if err != nil {
			return err
		}
		v.Numbers = append(v.Numbers, numbersOf(l, o, lay, h))
		h.Title = l.Say("how")
		v.Hows = append(v.Hows, howOf(l, o, lay, h))
		v.Forms = append(v.Forms, len(v.Forms))
	}
	return v.write(w)
}

func newView(l *words.Language, p Paper, title string) view {
	iw, ih := p.inner()
	css := style + fmt.Sprintf("\n@page{size:%gmm %gmm;margin:%gmm}\n.page{width:%gmm;height:%gmm}\n", p.Width, p.Height, margin, iw, ih)
	return view{Lang: l.Say("lang"), Direction: l.Say("direction"), Title: l.Say(title), Style: template.CSS(css),
		Policy: page.Policy(css)}
}

func (v view) write(w io.Writer) error { return page.Fill(w, pages, v) }

func (v view) FeetOf(nth int) []footPage     { return v.Feet[2*nth : 2*nth+2] }
func (v view) NumbersOf(nth int) numbersPage { return v.Numbers[nth] }
func (v view) HowOf(nth int) howPage         { return v.Hows[nth] }

// codeText is what the Data Matrix of a page says: the form's number, the page
// (L and R for the feet, N for the numbers) and the version of the
// instructions, apart by spaces. A form without a number has a dash.
func codeText(number, leaf, version string) string {
	if number == "" {
		number = "-"
	}
	return strings.Join([]string{number, leaf, version}, " ")
}

// A CodeError says that a form's number can't be printed as a code.
type CodeError struct {
	Form  string
	Cause error
}

func (e *CodeError) Error() string {
	return fmt.Sprintf("the form's number %.40q can't be printed as a code; use up to 50 letters and digits: %s", e.Form, e.Cause)
}

func (e *CodeError) Unwrap() error { return e.Cause }

func headOf(l *words.Language, o Order, version, title, leaf string) (head, error) {
	code, err := datamatrix.Encode(codeText(o.Form, leaf, version))
	if err != nil {
		return head{}, &CodeError{o.Form, err}
	}
	n := code.Bounds().Dx()
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="code" viewBox="-2 -2 %d %d" role="img" aria-label="%s"><path d="`, n+4, n+4, template.HTMLEscapeString(codeText(o.Form, leaf, version)))
	for y := range n {
		for x := range n {
			if r, _, _, _ := code.At(x, y).RGBA(); r == 0 {
				fmt.Fprintf(&b, "M%d,%dh1v1h-1z", x, y)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return head{Title: l.Say(title), Form: o.Form, Number: o.Number, Name: o.Name, Version: l.Say("version", "letter", version),
		FormLabel: l.Say("form"), NumberLabel: l.Say("order"), NameLabel: l.Say("name"), Code: template.HTML(b.String())}, nil
}

func footOf(l *words.Language, o Order, lay Layout, side form.Side) (footPage, error) {
	leaf := map[form.Side]string{form.Left: "L", form.Right: "R"}[side]
	h, err := headOf(l, o, lay.Version, "foot_"+side.String(), leaf)
	if err != nil {
		return footPage{}, err
	}
	w, height := lay.Paper.inner()
	zone := w - 70
	p := footPage{head: h, Drawing: footZone(l, zone, height, side), Sample: drawTracing(tracing{left: side == form.Left, marks: true}), Bar: scaleBar(),
		BarText: l.Say("bar"), Longest: l.Say("longest", "length", l.Number(lay.Unit.Text(longestFoot(height, lay.Unit))))}
	for _, key := range []string{"trace_stand", "trace_once", "trace_ball", "trace_instep"} {
		p.Steps = append(p.Steps, l.Say(key))
	}
	for _, key := range []string{"tick_single", "tick_closed", "tick_ball", "tick_instep"} {
		p.Ticks = append(p.Ticks, l.Say(key))
	}
	return p, nil
}

func numbersOf(l *words.Language, o Order, lay Layout, h head) numbersPage {
	p := numbersPage{head: h, Where: l.Say("where"), Unit: l.Say("unit_" + lay.Unit.String()), Columns: []string{l.Say("left"), l.Say("right")}}
	if o.Tucked {
		p.Columns = append(p.Columns, l.Say("left_tucked"), l.Say("right_tucked"))
	}
	places := o.places(lay.Scheme)
	_, height := lay.Paper.inner()
	row := min(22, (height-66)/float64(len(places))-1.4) // under the head, with room between
	for _, at := range places {
		key := at.Point.String()
		how := "how_" + key
		switch {
		case at.Point == form.Heel && lay.Scheme.HeelGirth == form.LongHeel:
			how += "_long"
		case at.Point == form.Ankle && lay.Scheme.AnkleGirth == form.OverBones:
			how += "_bones"
		}
		n := 2
		if o.Tucked && at.Point.OverTrousers() {
			n = 4
		}
		p.Rows = append(p.Rows, numbersRow{drawPlace(at, lay.Scheme, row), l.Say(key, "height", l.Number(lay.Unit.Text(float64(at.HeightMM)))), l.Say(how), make([]struct{}, n)})
	}
	return p
}

func howOf(l *words.Language, o Order, lay Layout, h head) howPage {
	p := howPage{head: h, TicksTitle: l.Say("ticks"), MindTitle: l.Say("cautions"),
		MeasuredOn: l.Say("measured_on"), MeasuredBy: l.Say("measured_by"), Back: l.Say("back")}
	v := "how_" + strings.ToLower(lay.Version) + "_"
	for _, key := range []string{"help", "sock", "tape", "start", "both", "leg"} {
		p.Steps = append(p.Steps, l.Say(v+key))
	}
	keys := []string{"tick_help", "tick_start", "tick_marks", "tick_heights", "tick_sides", "tick_orthotic"}
	if o.Tucked {
		p.Steps = append(p.Steps, l.Say(v+"tucked"))
		keys = append(keys, "tick_tucked")
	}
	for _, key := range keys {
		p.Ticks = append(p.Ticks, l.Say(key))
	}
	for _, key := range []string{"caution_care", "caution_swelling", "caution_private"} {
		p.Cautions = append(p.Cautions, l.Say(key))
	}
	return p
}
