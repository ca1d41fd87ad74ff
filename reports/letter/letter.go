// Package letter writes the letter that asks a customer to measure again: one
// page, exactly the numbers that are needed and how to take them, as text (fit
// for e-mail too), as a printable HTML file, and as a document for the pages of
// the service.
//
//  1. [FromDecision] says what to ask: all that a desk.Decision rests on, in the order
//     of the work: what is answered in words, the tracing, the numbers. It never tells what a number should have been: who knows the
//     wanted number reads it off the tape.
//  2. [Words] gives the words, in English, another language, or a shop's own.
//  3. [Write] joins both into a [Letter], which prints itself.
//
// How to lay the tape is common practice of the trade (no published source).
package letter

import (
	"cmp"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
)

// An Ask is what one letter asks for.
type Ask struct {
	FormID   string
	Received cohort.Day // NoDay or the zero Day: not written
	Unit     form.Unit  // as the form was written
	Places   []form.Place
	Tracing  bool // the feet have to be traced again
	Marks    bool // with the tape's place marked
	// Questions need no tape: they are answered in words.
	Questions []Question

	Scheme form.Scheme // says how heel and ankle are taken

	// Points are what each fault adds to the order's remake risk: what weighs most is
	// asked for first. Without them the foot comes before the leg.
	Points map[string]float64
}

// A Question is the key of one of the letter's texts, with the places it is about.
type Question struct {
	Key    string       `json:"key"`
	Places []form.Place `json:"places,omitempty"`
}

// The questions, in the order in which they are asked: first what may end the
// measuring, last what is known when it is done.
const (
	AskSwelling  = "ask_swelling"
	AskOrthotic  = "ask_orthotic"
	AskAlone     = "ask_alone"
	AskUnit      = "ask_unit"
	AskExchanged = "ask_exchanged" // left and right
	AskTrousers  = "ask_trousers"  // bare and over the trousers
	AskHow       = "ask_how"       // whatever else made the shop hold the form
)

// FromDecision says what the letter to a form's customer asks for: all that the
// verdict rests on. False where the form is not held.
func FromDecision(d desk.Decision, received cohort.Day, unit form.Unit) (Ask, bool) {
	a := Ask{FormID: d.FormID, Received: received, Unit: unit, Places: d.TakeAgain, Tracing: d.TraceAgain, Points: d.ByFault}
	a.Marks = slices.Contains(d.Faults, "tape-marks-missing")
	ask := func(is bool, key string, places ...form.Place) {
		if is {
			a.Questions = append(a.Questions, Question{key, places})
		}
	}
	ask(len(d.Cautions) > 0, AskSwelling)
	ask(slices.Contains(d.Faults, "orthotic-undiscussed"), AskOrthotic)
	ask(slices.Contains(d.Faults, "self-measured"), AskAlone)
	for _, q := range []struct{ hypothesis, key string }{{"unit", AskUnit}, {"exchanged", AskExchanged}, {"tucked-exchanged", AskTrousers}} {
		var places []form.Place
		for _, x := range d.Doubts {
			if x.Hypothesis == q.hypothesis && x.Posterior != nil && *x.Posterior >= likely && !slices.Contains(places, x.Place) {
				places = append(places, x.Place)
			}
		}
		ask(len(places) > 0, q.key, places...)
	}
	// A rule may rest on anything that is known of an order.
	other := len(a.Questions) == 0 && len(a.Places) == 0 && !a.Tracing && !a.Marks
	ask(len(d.Rules) > 0 || other, AskHow)
	return a, d.Held()
}

// likely is the share from which on an explanation that a word can settle is asked
// about. Judgement.
const likely = 0.5

// A Letter is a finished letter, in words.
type Letter struct {
	Lang, Direction string
	Title           string
	For             string
	Intro           []string
	Take            string
	Head            [5]string // where, left, right, left and right over trousers
	Rows            []Row
	Tracing         string // "" where the tracing stands
	AnswerTitle     string
	Answers         []string // questions that are answered in words
	Unit            string
	HowTitle        string
	How             []string
	CautionsTitle   string
	Cautions        []string
	Measured        [2]string
	Back            string
	None            string // what stands in a cell that is not asked for
}

// A Row is one place of the tape; Left and Right say which sides are asked for.
type Row struct {
	Where       string
	Left, Right bool

	points float64 // of the remake risk that asking may mend
	tucked bool
	bare   string // Where, of the bare leg
}

// Write writes the letter.
func Write(l *Language, a Ask) *Letter {
	out := &Letter{Lang: l.Say("lang"), Direction: l.Say("direction"), Title: l.Say("title"), For: l.Say("for"),
		Take: l.Say("take"), Head: [5]string{l.Say("where"), l.Say("left"), l.Say("right"), l.Say("left_tucked"), l.Say("right_tucked")}, Unit: l.Say("unit_" + a.unit().String()),
		HowTitle: l.Say("how"), CautionsTitle: l.Say("cautions"), Measured: [2]string{l.Say("measured_on"), l.Say("measured_by")},
		Back: l.Say("back", "form", a.FormID), None: l.Say("not_asked")}
	intro := l.Say("intro", "form", a.FormID, "day", l.Day(a.Received))
	if !a.Received.Known() || a.Received == 0 {
		intro = l.Say("intro_undated", "form", a.FormID)
	}
	out.Intro = []string{intro}
	if len(a.Places) > 0 || a.Tracing || a.Marks {
		out.Intro = append(out.Intro, l.Say("only_these"))
	} else {
		out.Title, out.Take = l.Say("title_answer"), ""
	}
	out.rows(l, a)
	switch {
	case a.Marks:
		out.Tracing = l.Say("tracing_marks")
	case a.Tracing:
		out.Tracing = l.Say("tracing")
	}
	out.AnswerTitle = l.Say("answer")
	for _, q := range a.Questions {
		out.Answers = append(out.Answers, l.Say(q.Key, "places", placesIn(l, a, q.Places)))
	}
	if len(out.Rows) == 0 {
		out.Unit = ""
	}
	out.how(l, a)
	for _, key := range []string{"caution_care", "caution_swelling", "caution_private"} {
		out.Cautions = append(out.Cautions, l.Say(key))
	}
	return out
}

func (a Ask) unit() form.Unit {
	if a.Unit == form.NoUnit {
		return form.Millimetre
	}
	return a.Unit
}

// rows puts the two sides of a place on one line: foot before leg, low before
// high, bare before tucked.
func (out *Letter) rows(l *Language, a Ask) {
	places := slices.Clone(a.Places)
	slices.SortStableFunc(places, order)
	for i, p := range places {
		if i == 0 || order(places[i-1], p) != 0 {
			out.Rows = append(out.Rows, rowOf(l, a, p))
		}
		row := &out.Rows[len(out.Rows)-1]
		row.Left = row.Left || p.Side == form.Left
		row.Right = row.Right || p.Side == form.Right
	}
	slices.SortStableFunc(out.Rows, func(a, b Row) int { return cmp.Compare(b.points, a.points) })
}

// InShort names what a letter asks for in a few words each, in its order.
func InShort(l *Language, a Ask) (out []string) {
	letter := Write(l, a)
	for _, q := range a.Questions {
		out = append(out, l.Say(q.Key+"_short"))
	}
	if letter.Tracing != "" {
		out = append(out, letter.Tracing)
	}
	for _, r := range letter.Rows {
		sides := l.Say("left") + ", " + l.Say("right")
		switch {
		case !r.Left:
			sides = l.Say("right")
		case !r.Right:
			sides = l.Say("left")
		}
		out = append(out, r.Where+" ("+strings.ToLower(sides)+")")
	}
	return out
}

// placesIn names places in a sentence, each measure once.
func placesIn(l *Language, a Ask, places []form.Place) string {
	var names []string
	for _, p := range places {
		if name := rowOf(l, a, p).Where; !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return strings.Join(names, "; ")
}

// pointsOf is the most that a fault adds to the risk which taking the place again
// mends. All places of the foot have the same, all of the bare leg, and all over the
// trousers, so that a customer does not go up and down the leg.
func (a Ask) pointsOf(p form.Place) float64 {
	most := 0.0
	for _, f := range form.Faults {
		if f.Retaken(p) {
			most = max(most, a.Points[f.ID])
		}
	}
	return most
}

// order compares two places on either side.
func order(p, q form.Place) int {
	p.Side, q.Side = form.Left, form.Left
	return form.ComparePlaces(p, q)
}

func rowOf(l *Language, a Ask, p form.Place) Row {
	height := ""
	if p.HeightMM > 0 {
		height = l.Number(a.unit().Text(float64(p.HeightMM)))
	}
	r := Row{bare: l.Say(p.Point.String(), "height", height), tucked: p.Clothing == form.Tucked, points: a.pointsOf(p)}
	switch {
	case !r.tucked:
		r.Where = r.bare
	case p.Point == form.Leg || p.Point == form.Calf:
		r.Where = l.Say(p.Point.String()+"_tucked", "height", height)
	default:
		r.Where = l.Say("other_tucked", "point", r.bare)
	}
	return r
}

// how lists how to take what is asked for, and nothing else.
func (out *Letter) how(l *Language, a Ask) {
	tucked, girths, both := false, false, false
	asked := map[form.Point]bool{}
	for _, p := range a.Places {
		asked[p.Point] = true
		tucked = tucked || p.Clothing == form.Tucked
		girths = girths || p.Point.Girth()
	}
	for _, r := range out.Rows {
		both = both || r.Left && r.Right
	}
	say := func(is bool, key string) {
		if is {
			out.How = append(out.How, l.Say(key))
		}
	}
	tape := len(a.Places) > 0 || a.Tracing || a.Marks
	say(tape, "how_help")
	say(tape, "how_sock")
	say(girths, "how_tape")
	say(girths, "how_start")
	say(both, "how_both")
	say(a.Tracing || a.Marks || asked[form.Length] || asked[form.Breadth], "how_tracing")
	say(a.Marks, "how_marks")
	for _, p := range form.Points {
		key := "how_" + p.String()
		switch {
		case p == form.Heel && a.Scheme.HeelGirth == form.LongHeel:
			key = "how_heel_long"
		case p == form.Ankle && a.Scheme.AnkleGirth == form.OverBones:
			key = "how_ankle_bones"
		}
		say(asked[p], key)
	}
	say(tucked, "how_tucked")
}
