// Package desk decides what to do with a measuring form before leather is cut:
// cut, ask, or measure again. It is pure: the facts of the form come in as
// values, the decision goes out as one.
//
//  1. Facts says what is missing for the ordered boot, which intake faults are
//     known, and what risk model there is.
//  2. body.Check says whether the numbers are a human foot and leg.
//  3. Decide joins them to a Decision: the verdict, its reasons in words, the
//     doubts ranked by what measuring again would gain, and exactly what to
//     take again.
//
// What each fault asks for, and the shares at which a doubt is shown or taken
// again, are judgements of this project; they stand in faults.go and below.
package desk

import (
	"fmt"
	"slices"

	"lastroom/analysis/body"
)

// A Verdict is what to do with a form now.
type Verdict string

// The verdicts, from the lightest.
const (
	Cut          Verdict = "cut"           // nothing holds the form
	Ask          Verdict = "ask"           // a question that needs no tape
	MeasureAgain Verdict = "measure again" // numbers have to be taken, again or for the first time
)

// A Place is one number of a form: what it is and where.
type Place struct {
	Side     string   `json:"side"`
	Clothing string   `json:"clothing"`
	Point    string   `json:"point"`
	HeightMM *float64 `json:"height_mm"` // leg only
}

// PlaceOf is the place of a number.
func PlaceOf(n body.Number) Place {
	p := Place{Side: n.Side.String(), Clothing: n.Clothing.String(), Point: n.Point.String()}
	if n.Point == body.Leg {
		h := n.Height
		p.HeightMM = &h
	}
	return p
}

// same reports whether two places are one; with anySide, on either foot.
func (p Place) same(q Place, anySide bool) bool {
	if p.Clothing != q.Clothing || p.Point != q.Point || !anySide && p.Side != q.Side {
		return false
	}
	if p.HeightMM == nil || q.HeightMM == nil {
		return p.HeightMM == q.HeightMM
	}
	return *p.HeightMM == *q.HeightMM
}

// Facts are what the book knows of a form besides its numbers.
type Facts struct {
	FormID  string
	Missing []Place  // numbers the ordered boot needs that the form has not
	Faults  []string // ids of the intake faults the form has (catalogue in analysis/cohort)
	Unknown []string // ids of the faults that can't be judged on it
	Rules   []string // titles of the shop's rules that hold the form
	Risk    *Risk    // nil: no risk model
}

// A Risk is what the remake-risk model says of the order.
type Risk struct {
	Share     float64 `json:"share"`
	Low       float64 `json:"low"`
	High      float64 `json:"high"`
	HoldAbove float64 `json:"hold_above"` // the shop's own limit; 0: none
}

// A Doubt is one explanation of one number, with what the number would have been.
type Doubt struct {
	Place
	Written     string   `json:"written"`
	ValueMM     float64  `json:"value_mm"`
	ExpectedMM  *float64 `json:"expected_mm"`
	LowMM       *float64 `json:"low_mm"`
	HighMM      *float64 `json:"high_mm"`
	Hypothesis  string   `json:"hypothesis"`
	Words       string   `json:"words"`
	Posterior   *float64 `json:"posterior"`
	SuggestedMM *float64 `json:"suggested_mm"`
	Gain        float64  `json:"gain"` // what taking this number again would settle (body.Doubt)
}

// A Decision is the desk's answer for one form.
type Decision struct {
	FormID     string   `json:"form_id"`
	Verdict    Verdict  `json:"verdict"`
	Complete   bool     `json:"complete"`
	Missing    []Place  `json:"missing"`
	Faults     []string `json:"faults"`
	Unknown    []string `json:"unknown"`
	Rules      []string `json:"rules"`       // the shop's rules that hold the form
	AlarmScore *float64 `json:"alarm_score"` // null: not judged
	Alarm      bool     `json:"alarm"`
	NothingOff *float64 `json:"nothing_off"` // posterior share of "nothing wrong"
	Doubts     []Doubt  `json:"doubts"`
	TakeAgain  []Place  `json:"take_again"` // exactly these, missing ones first
	TraceAgain bool     `json:"trace_again"`
	Reasons    []string `json:"reasons"` // why the verdict, in words
	Cautions   []string `json:"cautions"`
	Notes      []string `json:"notes"` // what the checks could not judge
	Basis      string   `json:"basis"` // whose offsets and spreads the numbers were judged by
	Risk       *Risk    `json:"risk"`
}

// Held reports whether the form waits for an answer.
func (d Decision) Held() bool { return d.Verdict != Cut }

// Document is the JSON of a check.
type Document struct {
	Forms []Decision `json:"forms"`
}

// Held reports whether any form waits for an answer.
func (d Document) Held() bool {
	for _, f := range d.Forms {
		if f.Held() {
			return true
		}
	}
	return false
}

// Decide joins completeness, faults and the check of the numbers.
func Decide(f Facts, c *body.Check) Decision {
	d := Decision{FormID: f.FormID, Verdict: Cut, Complete: len(f.Missing) == 0,
		Missing: orEmpty(f.Missing), Faults: orEmpty(f.Faults), Unknown: orEmpty(f.Unknown), Rules: orEmpty(f.Rules), Risk: f.Risk,
		AlarmScore: finite(c.Score), Alarm: c.Alarm, NothingOff: finite(c.NothingOff),
		Doubts: doubts(c), TakeAgain: orEmpty(slices.Clone(f.Missing)), Reasons: []string{},
		Cautions: orEmpty(c.Cautions), Notes: orEmpty(c.Notes), Basis: c.Basis}
	if n := len(f.Missing); n > 0 {
		d.raise(MeasureAgain, fmt.Sprintf("%s missing for the boot that was ordered", count(n, "number is", "numbers are")))
	}
	d.faults(f.Faults, c)
	for _, title := range f.Rules {
		d.raise(Ask, "held by the shop's rule: "+title)
	}
	if c.Alarm {
		d.alarm(c)
	}
	if len(c.Cautions) > 0 {
		d.raise(Ask, "a caution about swelling stands on this form")
	}
	if f.Risk != nil && f.Risk.HoldAbove > 0 && f.Risk.Share >= f.Risk.HoldAbove {
		d.raise(Ask, fmt.Sprintf("the remake risk of this order, %.0f %%, is at or above the shop's own limit of %.0f %%", 100*f.Risk.Share, 100*f.Risk.HoldAbove))
	}
	return d
}

// raise makes the verdict at least v and gives the reason.
func (d *Decision) raise(v Verdict, why string) {
	if d.Verdict == Cut || v == MeasureAgain {
		d.Verdict = v
	}
	d.Reasons = append(d.Reasons, why)
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func orEmpty[T any](x []T) []T {
	if x == nil {
		return []T{}
	}
	return x
}
