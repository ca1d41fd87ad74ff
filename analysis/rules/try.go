package rules

import (
	"context"
	"errors"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
)

// Tried is the id of a condition that is tried.
const Tried = "tried"

// TriedRule is the rule that a condition by itself would be in a rules file.
func TriedRule(when string) (Rule, error) {
	r, err := ruleText{ID: Tried, Title: when, When: when}.rule()
	if r.When == "" {
		return r, errors.New("there is no condition to try; give one over the columns of a form, as tape_marks_missing AND shaft_height_in >= 14")
	}
	return r, err
}

// A Trial is what a condition that somebody thought of would do as a rule.
type Trial struct {
	Tried Scored `json:"tried"`
	// HeldLastMonth are the first forms of Month that it would have held.
	HeldLastMonth []string `json:"held_last_month"`
	// Overlap counts first forms of mature orders, rule by rule.
	Overlap []Overlap `json:"overlap"`

	Month       cohort.Month `json:"month"`
	AsOf        cohort.Day   `json:"as_of"`
	FirstForms  int          `json:"first_forms"` // of mature orders
	Remade      int          `json:"remade"`
	Months      int          `json:"months"`
	Success     float64      `json:"success_share"`
	SuccessFrom string       `json:"success_from"`
	Costs       Costs        `json:"costs"`
	// New counts the first forms of mature orders that it would hold and no rule
	// in force on the as-of day does.
	New int `json:"held_by_no_rule_in_force"`
}

// An Overlap is how many first forms a tried condition and a rule hold.
type Overlap struct {
	Rule      string `json:"rule"`
	Title     string `json:"title"`
	Both      int    `json:"both"`
	OnlyTried int    `json:"only_tried"`
	OnlyRule  int    `json:"only_rule"`
	// The orders of the three counts, newest shipped first; see [remakes.Behind].
	BothOrders      []string `json:"-" cbor:"both_orders"`
	OnlyTriedOrders []string `json:"-" cbor:"only_tried_orders"`
	OnlyRuleOrders  []string `json:"-" cbor:"only_rule_orders"`
}

// LastMonth is the newest calendar month that was over by a day.
func LastMonth(day cohort.Day) cohort.Month {
	if m := day.Month(); m.Last() == day {
		return m
	}
	return day.Month() - 1
}

// Try scores a condition by itself, beside the other rules there are. forms are the
// first forms of LastMonth that it holds.
func Try(ctx context.Context, c *cohort.Cohort, tried Applied, applied []Applied, calls []Call, forms []string, o Options) Trial {
	tried.From, tried.Until = cohort.NoDay, cohort.NoDay // what it would do, on or off
	d := Score(ctx, c, []Applied{tried}, calls, o)
	t := Trial{Tried: d.Rules[0], HeldLastMonth: forms, Overlap: []Overlap{}, AsOf: c.AsOf,
		FirstForms: d.FirstForms, Remade: d.Remade, Months: d.Months, Success: d.Success, SuccessFrom: d.SuccessFrom, Costs: d.Costs}
	if c.AsOf.Known() {
		t.Month = LastMonth(c.AsOf)
	}
	m := remakes.MatureAfter(c, o.MatureDays)
	inForce := make([]bool, c.Len())
	var mature []int
	for i := range c.Len() {
		if m.Is(c, i) {
			mature = append(mature, i)
		}
	}
	for _, a := range applied {
		if a.ID == tried.ID {
			continue
		}
		one := Overlap{Rule: a.ID, Title: a.Title}
		for i, h := range a.Held {
			if !m.Is(c, i) {
				continue
			}
			rule, triedToo := h == form.With, tried.Held[i] == form.With
			switch {
			case rule && triedToo:
				one.Both++
			case triedToo:
				one.OnlyTried++
			case rule:
				one.OnlyRule++
			}
			inForce[i] = inForce[i] || rule && a.InForceOn(c.AsOf)
		}
		behind := func(rule, too bool) []string {
			return remakes.Behind(c, mature, func(i int) bool { return (a.Held[i] == form.With) == rule && (tried.Held[i] == form.With) == too })
		}
		one.BothOrders, one.OnlyTriedOrders, one.OnlyRuleOrders = behind(true, true), behind(false, true), behind(true, false)
		t.Overlap = append(t.Overlap, one)
	}
	for i, h := range tried.Held {
		if h == form.With && m.Is(c, i) && !inForce[i] {
			t.New++
		}
	}
	return t
}
