package desk

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

const (
	// leastShown is the smallest posterior share of a doubt that is shown. Judgement.
	leastShown = 0.01
	// settled is the share of what may be wrong that taking numbers again
	// should settle. Judgement.
	settled = 0.8
	// plain is the share of one explanation that makes it a question rather
	// than a reason to measure again. Judgement.
	plain = 0.9
)

// doubts are shown only where the numbers say that something is likelier wrong
// than forms are in general, which an alarm does; without one the list is empty.
func doubts(c *body.Check) []Doubt {
	out := []Doubt{}
	if !c.Alarm {
		return out
	}
	for _, x := range c.Doubts(leastShown) {
		r, e := c.Readings[x.Index], c.Explanations[x.Explanation]
		out = append(out, Doubt{Place: r.Place, Written: r.Written, ValueMM: r.ValueMM,
			ExpectedMM: stats.Nullable(r.Expected), LowMM: stats.Nullable(r.Low), HighMM: stats.Nullable(r.High),
			Hypothesis: e.ID, Words: e.Words, Posterior: stats.Nullable(e.Share), SuggestedMM: stats.Nullable(x.Suggested), Gain: x.Gain})
	}
	return append(out, impossible(c)...)
}

// impossible are the numbers that no body part can have.
func impossible(c *body.Check) (out []Doubt) {
	for _, r := range c.Readings {
		if !r.Judged && !body.Possible(r.ValueMM) {
			out = append(out, Doubt{Place: r.Place, Written: r.Written, ValueMM: r.ValueMM,
				Hypothesis: "impossible", Words: r.Name() + " is not a length that any foot or leg can have", Gain: 1})
		}
	}
	return out
}

// alarm says what the alarm asks for: a question where one explanation that
// needs no tape fits best by far, otherwise the numbers to take again.
func (d *Decision) alarm(c *body.Check) {
	wrong := 1 - c.NothingOff
	for _, x := range impossible(c) {
		d.take(x.Place)
		d.raise(MeasureAgain, x.Words)
	}
	if len(c.Explanations) == 0 {
		return
	}
	best := c.Explanations[0]
	odds := "the numbers are odder than " + oddness(c.Score)
	if needsNoTape(best.ID) && best.Share >= plain {
		d.raise(Ask, odds+"; most likely: "+best.Words)
		return
	}
	sum := 0.0
	for _, e := range c.Explanations {
		if sum >= settled*wrong {
			break
		}
		sum += e.Share
		for _, ch := range e.Changes {
			d.takeBoth(c, c.Readings[ch.Index].Place)
		}
	}
	d.raise(MeasureAgain, odds+"; most likely, if anything is wrong: "+best.Words)
}

// leastOdds is the share of good forms below which no figure is given: the
// simulations behind it see no further. Judgement.
const leastOdds = 1e-4

// oddness says an alarm score in words.
func oddness(score float64) string {
	if share := math.Pow(10, -score); share >= leastOdds {
		return fmt.Sprintf("all but %.2g %% of good forms", 100*math.Min(1, share))
	}
	return fmt.Sprintf("practically all good forms (all but fewer than %.2g %%)", 100*leastOdds)
}

// needsNoTape are the explanations that a question can settle.
func needsNoTape(id string) bool {
	return id == "unit" || id == "exchanged" || id == "tucked-exchanged"
}

func (d *Decision) take(p form.Place) {
	if !slices.Contains(d.TakeAgain, p) {
		d.TakeAgain = append(d.TakeAgain, p)
	}
}

// takeBoth takes a number again on both feet, since the form says well which
// measure is off and less well on which side.
func (d *Decision) takeBoth(c *body.Check, p form.Place) {
	for _, r := range c.Readings {
		if r.Place == p || r.Place == p.OtherSide() {
			d.take(r.Place)
		}
	}
}
