package main

import (
	"context"
	"fmt"
	"runtime"
	"sync"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/ingest/orderbook"
)

// A checker is the form desk: it judges forms by published values and, where
// there is a book, by the shop's settings, its own values, the customer's
// earlier orders and the rules in force. It may be used by several goroutines.
type checker struct {
	book        *orderbook.Reader // nil: published values alone
	settings    map[string]string // of the shop
	model       *body.Model
	calibration *body.Calibration // nil without a book
	rules       []rules.Rule
	falseAlarms float64
}

// A checkedForm is a form with all that the desk says of it.
type checkedForm struct {
	orderbook.DeskForm
	decision desk.Decision
	check    *body.Check
	past     []pastForm
}

// A pastForm is the form that an earlier order of the same customer was cut
// from.
type pastForm struct {
	orderbook.DeskForm
	years float64 // before the form that is judged
}

// newChecker makes ready to check forms; book may be nil. The rules are those
// in force by their days; settings go over those of the book.
func newChecker(ctx context.Context, book *orderbook.Reader, list []rules.Rule, falseAlarms float64) (*checker, error) {
	c := &checker{book: book, rules: list, falseAlarms: falseAlarms, settings: map[string]string{}}
	if book != nil {
		var err error
		if c.settings, err = book.Settings(ctx); err != nil {
			return nil, err
		}
	}
	return c, c.fit(ctx)
}

// fit makes the model for the settings, with the shop's own values where its
// mature orders give enough of them.
func (c *checker) fit(ctx context.Context) error {
	c.model = body.NewModel(form.SchemeOf(c.settings))
	if c.book == nil {
		return nil
	}
	orders, err := c.book.Cohort(ctx)
	if err != nil {
		return err
	}
	good, err := c.book.GoodForms(ctx, remakes.MatureAfter(orders, 0).Days)
	if err != nil {
		return err
	}
	forms := make([]form.Form, len(good))
	for i, f := range good {
		forms[i] = formOf(f)
	}
	c.calibration = c.model.Calibrate(forms)
	c.model = c.model.Calibrated(c.calibration)
	return nil
}

// formOf is a form of a book as the model takes it.
func formOf(f orderbook.DeskForm) form.Form {
	return form.Form{ID: f.ID, Sex: form.ParseSex(f.Sex), Channel: form.ParseChannel(f.Channel), Numbers: f.Numbers}
}

// forms checks the forms of a reader: all, or those that the condition where
// over the view form f names.
func (c *checker) forms(ctx context.Context, r *orderbook.Reader, where string, args ...any) ([]checkedForm, error) {
	list, err := r.DeskForms(ctx, where, args...)
	if err != nil {
		return nil, err
	}
	past, err := c.pastOf(ctx, list)
	if err != nil {
		return nil, err
	}
	held, err := r.HoldForms(ctx, c.rules)
	if err != nil {
		return nil, badInput(err)
	}
	out := make([]checkedForm, len(list))
	var workers sync.WaitGroup
	n := runtime.GOMAXPROCS(0)
	for w := range n {
		workers.Go(func() {
			for i := w; i < len(list) && ctx.Err() == nil; i += n {
				out[i] = c.one(list[i], earlierOf(list[i], past), held)
			}
		})
	}
	workers.Wait()
	return out, ctx.Err()
}

// one checks one form.
func (c *checker) one(f orderbook.DeskForm, past []pastForm, held []map[string]bool) checkedForm {
	var earlier []body.Earlier
	for _, p := range past {
		earlier = append(earlier, body.Earlier{Form: formOf(p.DeskForm), Years: p.years})
	}
	out := checkedForm{DeskForm: f, past: past, check: c.model.Check(formOf(f), earlier, c.falseAlarms)}
	facts := desk.Facts{FormID: f.ID, Missing: f.Missing}
	for k, s := range statesOf(f.Faults, out.check) {
		switch s {
		case form.With:
			facts.Faults = append(facts.Faults, form.Faults[k].ID)
		case form.Unknown:
			facts.Unknown = append(facts.Unknown, form.Faults[k].ID)
		}
	}
	for i, r := range c.rules {
		if held[i][f.ID] && inForce(r, f.Received) {
			facts.Rules = append(facts.Rules, r.Title)
		}
	}
	out.decision = desk.Decide(facts, out.check)
	return out
}

// statesOf are the states of the faults with those read off the numbers taken
// from this check.
func statesOf(states []form.State, c *body.Check) []form.State {
	out := append([]form.State{}, states...)
	for k, fault := range form.Faults {
		switch fault.ID {
		case "tape-zero-shown":
			out[k] = stateOf(c.TapeZeroShown)
		case "unit-mixed":
			out[k] = stateOf(c.UnitMixed)
		case "value-implausible":
			out[k] = stateOf(c.ValueImplausible)
		case "sides-copied":
			if out[k] != form.NotAtRisk && c.SidesCopied != body.Unjudged {
				out[k] = stateOf(c.SidesCopied)
			}
		}
	}
	return out
}

func stateOf(a body.Answer) form.State {
	switch a {
	case body.Yes:
		return form.With
	case body.No:
		return form.Without
	}
	return form.Unknown
}

// inForce reports whether a rule was switched on by a day and not ended before
// it. A form without a day counts as new.
func inForce(r rules.Rule, day cohort.Day) bool {
	if !r.From.Known() {
		return false
	}
	if !day.Known() {
		return !r.Until.Known()
	}
	return r.From <= day && (!r.Until.Known() || day <= r.Until)
}

// pastOf are the earlier forms in the book of the customers of the list.
func (c *checker) pastOf(ctx context.Context, list []orderbook.DeskForm) ([]orderbook.DeskForm, error) {
	if c.book == nil {
		return nil, nil
	}
	var customers, orders []string
	for _, f := range list {
		if f.Customer != "" {
			customers = append(customers, f.Customer)
		}
		if f.EarlierOrder != "" {
			orders = append(orders, f.EarlierOrder)
		}
	}
	if len(customers)+len(orders) == 0 {
		return nil, nil
	}
	past, err := c.book.EarlierCutForms(ctx, customers, orders)
	if err != nil {
		return nil, fmt.Errorf("looking for earlier orders: %w", err)
	}
	return past, nil
}

// earlierOf picks the earlier forms of the customer of f, newest first.
func earlierOf(f orderbook.DeskForm, all []orderbook.DeskForm) (out []pastForm) {
	for _, p := range all {
		same := p.Order == f.EarlierOrder || f.Customer != "" && p.Customer == f.Customer
		if same && p.Order != f.Order && p.Received.Known() && f.Received.Known() && p.Received < f.Received {
			out = append(out, pastForm{p, float64(f.Received-p.Received) / 365.25})
		}
	}
	return out
}

func documentOf(list []checkedForm) desk.Document {
	d := desk.Document{Forms: make([]desk.Decision, len(list))}
	for i, f := range list {
		d.Forms[i] = f.decision
	}
	return d
}
