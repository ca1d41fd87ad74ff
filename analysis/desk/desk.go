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
package desk

import "lastroom/analysis/body"

// A Verdict is what to do with a form now.
type Verdict string

// The verdicts, from the lightest.
const (
	Cut          Verdict = "cut"           // nothing holds the form
	Ask          Verdict = "ask"           // a question that needs no tape
	MeasureAgain Verdict = "measure again" // numbers have to be taken again or first
)

// A Place is one number of a form: what it is and where.
type Place struct {
	Side     string   `json:"side"`
	Clothing string   `json:"clothing"`
	Point    string   `json:"point"`
	HeightMM *float64 `json:"height_mm"` // leg only
}

// Facts are what the book knows of a form besides its numbers.
type Facts struct {
	FormID  string
	Missing []Place  // numbers the ordered boot needs that the form has not
	Faults  []string // ids of the intake faults the form has (catalogue in analysis/cohort)
	Unknown []string // ids of the faults that can't be judged on it
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
	Posterior   *float64 `json:"posterior"`
	SuggestedMM *float64 `json:"suggested_mm"`
	Gain        float64  `json:"gain"` // chance that measuring this number again mends the form
}

// A Decision is the desk's answer for one form.
type Decision struct {
	FormID     string   `json:"form_id"`
	Verdict    Verdict  `json:"verdict"`
	Complete   bool     `json:"complete"`
	Missing    []Place  `json:"missing"`
	Faults     []string `json:"faults"`
	AlarmScore *float64 `json:"alarm_score"` // null: not judged
	Alarm      bool     `json:"alarm"`
	Doubts     []Doubt  `json:"doubts"`
	TakeAgain  []Place  `json:"take_again"` // exactly these, missing ones first
	Reasons    []string `json:"reasons"`    // why the verdict, in words
	Cautions   []string `json:"cautions"`
	Notes      []string `json:"notes"` // what the checks could not judge
	Risk       *Risk    `json:"risk"`
}

// Held reports whether the form waits for an answer.
func (d Decision) Held() bool { return d.Verdict != Cut }

// Document is the JSON of a check.
type Document struct {
	Forms []Decision `json:"forms"`
}

// Decide joins completeness, faults and the check of the numbers.
func Decide(f Facts, c *body.Check) Decision {
	d := Decision{FormID: f.FormID, Verdict: Cut, Complete: len(f.Missing) == 0, Missing: f.Missing,
		Faults: f.Faults, Risk: f.Risk}
	if len(f.Missing) > 0 {
		d.Verdict = MeasureAgain
	}
	return d
}
