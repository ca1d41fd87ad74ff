// Package desk decides what to do with a measuring form before leather is cut:
// cut, ask, or measure again. It is pure: the facts of the form come in as
// values, the decision goes out as one.
//
//  1. Facts says what is missing for the ordered boot, which intake faults and
//     rules of the shop hold it.
//  2. body.Check says whether the numbers are a human foot and leg.
//  3. Decide joins them to a Decision: the verdict, its reasons in words, the
//     doubts ranked by what measuring again would gain, and exactly what to
//     take again.
//  4. Decision.Weigh lets through what is in doubt but not worth a call-back by
//     the shop's costs, where they and the order's remake risk are known.
//
// What each fault asks for, and the shares at which a doubt is shown or taken
// again, are judgements of this project; they stand in faults.go and below.
package desk

import (
	"fmt"
	"slices"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
	"lastroom/analysis/risk"
	"lastroom/analysis/stats"
)

// A Verdict is what to do with a form now.
type Verdict string

// The verdicts, from the lightest.
const (
	Cut          Verdict = "cut"           // nothing holds the form
	Ask          Verdict = "ask"           // a question that needs no tape
	MeasureAgain Verdict = "measure again" // numbers have to be taken, again or for the first time
)

// Facts are what the book knows of a form besides its numbers.
type Facts struct {
	FormID  string
	Missing []form.Place // numbers the ordered boot needs that the form has not
	Faults  []string     // ids of the intake faults the form has (catalogue form.Faults)
	Unknown []string     // ids of the faults that can't be judged on it
	Rules   []string     // titles of the shop's rules that hold the form
}

// A Doubt is one explanation of one number, with what the number would have been.
type Doubt struct {
	form.Place
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
	FormID     string       `json:"form_id"`
	Verdict    Verdict      `json:"verdict"`
	Complete   bool         `json:"complete"`
	Missing    []form.Place `json:"missing"`
	Faults     []string     `json:"faults"`
	Unknown    []string     `json:"unknown"`
	Rules      []string     `json:"rules"`       // the shop's rules that hold the form
	AlarmScore *float64     `json:"alarm_score"` // null: not judged
	Alarm      bool         `json:"alarm"`
	NothingOff *float64     `json:"nothing_off"` // posterior share of "nothing wrong"
	Doubts     []Doubt      `json:"doubts"`
	TakeAgain  []form.Place `json:"take_again"` // exactly these, missing ones first
	TraceAgain bool         `json:"trace_again"`
	Reasons    []string     `json:"reasons"` // why the verdict, in words
	Cautions   []string     `json:"cautions"`
	Notes      []string     `json:"notes"` // what the checks could not judge
	Basis      string       `json:"basis"` // whose offsets and spreads the numbers were judged by
	// LetThrough are doubts that do not hold the form, since a call-back about them
	// is not worth it by Threshold.
	LetThrough []string  `json:"let_through"`
	Threshold  Threshold `json:"-"`
	// Risk is the remake risk of the order if cut from this form; null without a
	// book. ByFault is what each fault adds to it, for the order of questions.
	Risk    *risk.OrderRisk    `json:"risk"`
	ByFault map[string]float64 `json:"-"`

	firm bool // it is held whatever a call-back costs
}

// Held reports whether the form waits for an answer.
func (d Decision) Held() bool { return d.Verdict != Cut }

// Checked is the JSON of a check.
type Checked struct {
	// Threshold is how many remakes a call-back has to avoid on average for doubts
	// to hold a form; null: every doubt does. ThresholdFrom says why.
	Threshold     *float64   `json:"threshold"`
	ThresholdFrom string     `json:"threshold_from"`
	Forms         []Decision `json:"forms"`
}

// Held reports whether any form waits for an answer.
func (d Checked) Held() bool {
	for _, f := range d.Forms {
		if f.Held() {
			return true
		}
	}
	return false
}

// Decide joins completeness, faults and the check of the numbers; each doubt holds
// the form until it is weighed.
func Decide(f Facts, c *body.Check) Decision {
	d := Decision{FormID: f.FormID, Verdict: Cut, Complete: len(f.Missing) == 0,
		Missing: orEmpty(f.Missing), Faults: orEmpty(f.Faults), Unknown: orEmpty(f.Unknown), Rules: orEmpty(f.Rules),
		AlarmScore: stats.Nullable(c.Score), Alarm: c.Alarm, NothingOff: stats.Nullable(c.NothingOff),
		Doubts: doubts(c), TakeAgain: orEmpty(slices.Clone(f.Missing)), Reasons: []string{}, LetThrough: []string{},
		Cautions: orEmpty(c.Cautions), Notes: orEmpty(c.Notes), Basis: c.Basis}
	d.firm = len(f.Missing)+len(f.Rules)+len(c.Cautions) > 0 || c.Alarm ||
		slices.ContainsFunc(f.Faults, func(id string) bool { return slices.Contains(forTheWearer, id) })
	if n := len(f.Missing); n > 0 {
		d.raise(MeasureAgain, fmt.Sprintf("%s missing for the boot that was ordered", form.CountOf(n, "number is", "numbers are")))
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
	return d
}

// raise makes the verdict at least v and gives the reason.
func (d *Decision) raise(v Verdict, why string) {
	if d.Verdict == Cut || v == MeasureAgain {
		d.Verdict = v
	}
	d.Reasons = append(d.Reasons, why)
}

func orEmpty[T any](x []T) []T {
	if x == nil {
		return []T{}
	}
	return x
}
