package session

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
)

// A Reading is one number as written and in millimetres.
type Reading struct {
	Side    form.Side `json:"side"`
	Spot    int       `json:"spot"` // into Plan.Spots
	Written string    `json:"written"`
	ValueMM float64   `json:"value_mm"`
}

// An Entry is what one person wrote at one turn.
type Entry struct {
	Person   int       `json:"person"`
	Subject  int       `json:"subject"`
	Trial    int       `json:"trial"`
	Readings []Reading `json:"readings"`
}

// Of is the entry of a turn, or nil.
func Of(entries []Entry, t Turn) *Entry {
	i := slices.IndexFunc(entries, func(e Entry) bool { return e.Person == t.Person && e.Subject == t.Subject && e.Trial == t.Trial })
	if i < 0 {
		return nil
	}
	return &entries[i]
}

// Repeats are the numbers of a session.
func (p *Plan) Repeats(entries []Entry) (out []repeatability.Repeat) {
	people := p.People()
	for _, e := range entries {
		for _, x := range e.Readings {
			height := math.NaN()
			if h := p.Spots[x.Spot].HeightMM; h > 0 {
				height = float64(h)
			}
			out = append(out, repeatability.Repeat{Session: p.ID, Subject: p.Subjects[e.Subject], Measurer: people[e.Person], Trial: e.Trial, Reference: e.Person == 0,
				Side: x.Side.String(), Point: p.Spots[x.Spot].Point.String(), HeightMM: height, ValueMM: x.ValueMM})
		}
	}
	return out
}

// Columns are those of the repeats sheet.
var Columns = []string{"session_id", "subject_id", "measurer_id", "trial", "reference", "side", "point", "height", "height_unit", "value", "unit", "measured_on"}

// Rows are the rows of the repeats sheet, by person, turn and place. A decimal comma is
// written as a point there: whether the sheet's reader takes one is a setting.
func (p *Plan) Rows(entries []Entry) (out [][]string) {
	people := p.People()
	for _, t := range p.inOrder() {
		e := Of(entries, t)
		if e == nil {
			continue
		}
		for _, x := range e.Readings {
			height, unit := "", ""
			if h := p.Spots[x.Spot].HeightMM; h > 0 {
				height, unit = strconv.FormatFloat(float64(h), 'f', -1, 64), form.Millimetre.String()
			}
			out = append(out, []string{p.ID, p.Subjects[e.Subject], people[e.Person], strconv.Itoa(e.Trial), map[bool]string{true: "yes", false: "no"}[e.Person == 0],
				x.Side.String(), p.Spots[x.Spot].Point.String(), height, unit, strings.ReplaceAll(x.Written, ",", "."), p.Unit.String(), p.Day})
		}
	}
	return out
}

// inOrder are the turns by person, then as they come.
func (p *Plan) inOrder() []Turn {
	turns := p.Turns()
	slices.SortStableFunc(turns, func(a, b Turn) int { return a.Person - b.Person })
	return turns
}

// TurnsOf are one person's turns, as they come.
func (p *Plan) TurnsOf(person int) []Turn {
	return slices.DeleteFunc(p.Turns(), func(t Turn) bool { return t.Person != person })
}

// A Deviation is one number less the instructor's mean of the same leg at the same
// spot.
type Deviation struct {
	Person, Subject int
	Side            form.Side
	Spot            int
	MM              float64
}

// Deviations are those of all who learn, where the instructor has a number too.
func (p *Plan) Deviations(entries []Entry) (out []Deviation) {
	type at struct {
		subject int
		side    form.Side
		spot    int
	}
	sum, n := map[at]float64{}, map[at]float64{}
	for _, e := range entries {
		for _, x := range e.Readings {
			if e.Person == 0 {
				k := at{e.Subject, x.Side, x.Spot}
				sum[k], n[k] = sum[k]+x.ValueMM, n[k]+1
			}
		}
	}
	for _, t := range p.inOrder() {
		e := Of(entries, t)
		if e == nil || e.Person == 0 {
			continue
		}
		for _, x := range e.Readings {
			if k := (at{e.Subject, x.Side, x.Spot}); n[k] > 0 {
				out = append(out, Deviation{e.Person, e.Subject, x.Side, x.Spot, x.ValueMM - sum[k]/n[k]})
			}
		}
	}
	return out
}
