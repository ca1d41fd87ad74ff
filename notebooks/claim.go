package notebooks

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"lastroom/analysis/nearest"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// A Verdict is what the data say of a claim.
type Verdict string

// The verdicts. A claim of which the data can't tell is not supported either.
const (
	Holds     Verdict = "holds"
	Untold    Verdict = "too few to tell"
	NotHeld   Verdict = "no longer supported"
	NotTested Verdict = "not tested"
)

// A Claim is a sentence of the prose with what the data said of it.
type Claim struct {
	Line    int     `json:"line"`
	Text    string  `json:"text"`
	Target  string  `json:"target"`
	Test    string  `json:"test"`
	Verdict Verdict `json:"verdict"`
	Now     string  `json:"now"` // the number it was tested on, in words
	Why     string  `json:"why,omitempty"`
}

// A test is what a claim asks of a value.
type test struct {
	op     string // above, below, between, is
	lo, hi float64
	word   string
}

// parseTest reads the title of a claim link: above 1, below 0.1, between 2 and
// 5, is WORDS.
func parseTest(s string) (test, error) {
	op, rest, _ := strings.Cut(strings.TrimSpace(s), " ")
	rest = strings.TrimSpace(rest)
	num := func(s string) (float64, error) {
		x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil || x-x != 0 {
			return 0, fmt.Errorf("%q is not a number", s)
		}
		return x, nil
	}
	switch op {
	case "above", "below":
		x, err := num(rest)
		return test{op: op, lo: x, hi: x}, err
	case "between":
		a, b, ok := strings.Cut(rest, " and ")
		if !ok {
			return test{}, errors.New(`write it as "between 2 and 5"`)
		}
		lo, err := num(a)
		if err != nil {
			return test{}, err
		}
		hi, err := num(b)
		if err == nil && hi < lo {
			err = fmt.Errorf("%v is more than %v", lo, hi)
		}
		return test{op: op, lo: lo, hi: hi}, err
	case "is":
		if rest == "" {
			return test{}, errors.New(`write it as "is WORDS"`)
		}
		return test{op: op, word: rest}, nil
	}
	return test{}, fmt.Errorf(`a test in the link's title is needed: "above 1", "below 0.1", "between 2 and 5" or "is WORDS"; %s`, nearest.Meant(op, []string{"above", "below", "between", "is"}))
}

// judge tests a value. For an estimate the whole interval has to lie on the
// claimed side; where it lies wholly on the other, the claim is no longer
// supported; where it holds both, the data can't tell.
func (t test) judge(v page.Value) (Verdict, string) {
	if t.op == "is" {
		if v.Text == t.word {
			return Holds, ""
		}
		return NotHeld, "it is " + v.Text
	}
	e := v.E
	if !e.Given() {
		why := "no number can be given"
		if len(e.Warnings) > 0 {
			why = strings.Join(e.Warnings, "; ")
		}
		return Untold, why
	}
	if !e.Bounded() {
		return Untold, "the number has no interval"
	}
	return t.interval(e)
}

func (t test) interval(e stats.Estimate) (Verdict, string) {
	var yes, no bool
	switch t.op {
	case "above":
		yes, no = e.Low > t.lo, e.High <= t.lo
	case "below":
		yes, no = e.High < t.lo, e.Low >= t.lo
	case "between":
		yes, no = e.Low >= t.lo && e.High <= t.hi, e.High < t.lo || e.Low > t.hi
	}
	switch {
	case yes:
		return Holds, ""
	case no:
		return NotHeld, "the data say otherwise"
	}
	return Untold, "the interval holds both answers"
}

// Judge says what the data say of the claim that a link makes of a value.
func (l Link) Judge(v page.Value) (Verdict, string) {
	t, err := parseTest(l.Test)
	if err != nil { // Parse refuses it
		return NotTested, err.Error()
	}
	return t.judge(v)
}
