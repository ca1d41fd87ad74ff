package risk

import (
	"context"
	"math"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// Grown is by which share the remakes known must have grown before a model is
// fitted anew, and Older after how many days in any case (judgement: a tenth moves
// risks by less than their own intervals, a quarter brings a season).
const (
	Grown = 0.10
	Older = 91
)

// A Learnt is a model with its validation, as it is kept beside the book. It holds
// no person's data: coefficients, counts, and the measurers' own keys.
type Learnt struct {
	Version    int        `json:"version"`
	AsOf       cohort.Day `json:"as_of"`
	BookHash   string     `json:"book_hash"` // content of the book that it was fitted on
	Program    string     `json:"program"`
	Rules      string     `json:"rules"` // hash of the rules that it was held against
	Model      *Model     `json:"model"`
	Validation Validation `json:"validation"`
	// BaseRate is the share that is remade within a year, of all orders alike.
	BaseRate stats.Estimate `json:"base_rate"`
}

// Learn fits the model on the orders of a cohort and validates it.
func Learn(ctx context.Context, c *cohort.Cohort, o Options) (*Learnt, error) {
	past := past{c.AsOf}
	histories := histories(c)
	x, err := o.Fits.whole(c, histories, past)
	if err != nil {
		return nil, err
	}
	l := &Learnt{AsOf: c.AsOf, Model: x.Model, BaseRate: x.baseRate()}
	if x.Why != "" {
		l.Validation = judge(c, &foresight{rivals: []string{baseRate, countOfFaults}}, o)
		return l, nil
	}
	l.Validation, err = validate(ctx, c, histories, x, o)
	return l, err
}

// baseRate is the share of all orders alike, young ones as far as they go.
func (x *fitted) baseRate() stats.Estimate {
	const method = "remakes over orders, each for as much of the year as is told; Wilson"
	w := x.d.Whole()
	n := 0.0
	for k := range x.d.Subject {
		n += w.Share[x.d.Age(x.d.Pattern(k))]
	}
	e := stats.Wilson(int(w.Events()), int(math.Max(w.Events(), math.Round(n))), stats.DefaultLevel)
	e.N, e.Method = len(x.d.Subject), method
	return e
}

// Ready makes a model usable that was read from a file; an error says that the
// file's parts do not belong together.
func (l *Learnt) Ready() error { return l.Model.ready() }

// Stale says in words why a model is fitted anew for the orders of a cohort, ""
// where it still serves.
func (l *Learnt) Stale(c *cohort.Cohort) string {
	remade := 0
	for i := range c.Shipped {
		if remakes.Event(c, i) {
			remade++
		}
	}
	switch {
	case l.AsOf > c.AsOf:
		return "it was fitted on a later day"
	case int(c.AsOf-l.AsOf) >= Older:
		return "it is a quarter old"
	case math.Abs(float64(remade-l.Model.Remakes)) > Grown*float64(max(1, l.Model.Remakes)):
		return "a tenth more, or fewer, remakes are known"
	case l.Model.Why != "" && c.Len() != l.Model.Orders:
		return "there was too little for a model before"
	}
	return ""
}

// Shown reports whether the desk shows the model's risks; otherwise the base rate.
func (l *Learnt) Shown() bool { return l.Model.Why == "" && l.Validation.Beats }

// risk is what is shown of a case: the model's risk where it beats its rivals,
// otherwise the base rate with the reason.
func (l *Learnt) risk(c *Case) stats.Estimate {
	switch {
	case l.Model.Why != "":
		return stats.Missing(l.Model.Orders, riskMethod, l.Model.Why)
	case !l.Validation.Beats:
		return l.BaseRate.Warn("the usual share of all orders: on later orders the model foresaw no better")
	}
	return l.Model.estimate(c)
}
