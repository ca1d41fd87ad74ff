// Package judging is the form desk: it judges forms by published values and by what a
// shop's book says.
//
//  1. [Open] makes a [Desk] of a book and its rules, or of neither; [New] one of a
//     book that is open, which [Desk.Foresee] gives the risk model.
//  2. It judges forms of sheets ([Desk.ReadSheets], [Desk.Judge]), typed in
//     ([Desk.JudgeTyped]), or of the book ([Desk.JudgeInBook]).
//  3. [Desk.Explain] and [Desk.Letter] say why, and what to take again.
//  4. [Desk.Exercise] deals first forms of the book to practise on.
package judging

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/orderbook"
)

// A Desk is the form desk: it judges forms by published values and, where
// there is a book, by the shop's settings, its own values, the customer's
// earlier orders and the rules in force. It may be used by several goroutines.
type Desk struct {
	book        *orderbook.Reader // nil: published values alone
	settings    map[string]string // of the shop
	model       *body.Model
	calibration *body.Calibration // nil without a book
	good        []form.Form       // that it was made from
	rules       []rules.Rule
	falseAlarms float64
	foresight   *foresight // nil without a book
	typed       *typedBook
	recalled    *recalled        // of customers
	matureDays  int              // of orders of the book that are old enough to learn from
	practice    *deck            // of these
	waiting     []Waiting        // see FindWaiting
	newest      orderbook.Newest // the same
}

// A Judged is a form with all that the desk says of it.
type Judged struct {
	orderbook.DeskForm
	Decision desk.Decision
	check    *body.Check
	past     []pastForm
}

// A pastForm is the form that an earlier order of the same customer was cut
// from.
type pastForm struct {
	orderbook.DeskForm
	years float64 // before the form that is judged
}

// A Setup says what a desk goes by.
type Setup struct {
	Book        string      // "": published values alone
	Rules       string      // a file of rules; "": the book's
	Costs       rules.Costs // for what the book's costs sheet does not say
	AsOf        cohort.Day
	FalseAlarms float64
	HoldShare   float64 // of first forms that may be held; 0: as many as pay
}

// Open opens a desk. Without a book and a rules file no rule is in force:
// those that come with the program are proposals.
func Open(ctx context.Context, s Setup, p workshop.Progress) (*Desk, error) {
	var list []rules.Rule
	var book *workshop.State
	var err error
	if s.Book != "" || s.Rules != "" {
		if list, _, err = workshop.ReadRules(s.Book, s.Rules); err != nil {
			return nil, err
		}
	}
	if s.Book != "" {
		w, err := workshop.Open(workshop.Setup{Book: s.Book, Rules: s.Rules, Costs: s.Costs})
		if err != nil {
			return nil, err
		}
		if book, err = w.Look(ctx, s.AsOf); err != nil {
			return nil, err
		}
		p("looking at the shop's own way of measuring", 0, 0)
	}
	d, err := New(ctx, book, list, s.FalseAlarms, nil)
	if err != nil || book == nil {
		return d, err
	}
	p("looking for the risk model, or fitting it", 0, 0)
	if err := d.Foresee(ctx, book, s.HoldShare); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// New makes ready to judge forms by a book, which may be nil and is the
// desk's from now on. Those of the rules hold forms that are in force by their
// days. before is the desk that this one takes the place of, or nil.
func New(ctx context.Context, book *workshop.State, list []rules.Rule, falseAlarms float64, before *Desk) (*Desk, error) {
	// What never was on holds no form, and costs a question a form.
	list = slices.DeleteFunc(slices.Clone(list), func(r rules.Rule) bool { return !r.From.Known() })
	d := &Desk{rules: list, falseAlarms: falseAlarms, settings: map[string]string{}, typed: &typedBook{}, recalled: &recalled{}}
	var err error
	if book != nil {
		d.book = book.Reader
		if d.settings, err = book.Settings(ctx); err == nil {
			err = d.findMature(ctx, book)
		}
	}
	if err == nil {
		err = d.fit(ctx, before)
	}
	if err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// Close gives the book back.
func (d *Desk) Close() error {
	err := d.typed.close()
	if d.book != nil {
		err = errors.Join(err, d.book.Close())
	}
	return err
}

// findMature looks up the orders of the book that are old enough to learn from.
func (d *Desk) findMature(ctx context.Context, book *workshop.State) error {
	orders, err := book.Cohort(ctx)
	if err != nil {
		return err
	}
	m := remakes.MatureAfter(orders, 0)
	d.matureDays, d.practice = m.Days, &deck{of: mature(orders, m)}
	return nil
}

// fit makes the model for the settings, with the shop's own values where its
// mature orders give enough of them. Most loads leave these orders as they were: then
// the model of the desk before serves on, with what it has worked out for the sets of
// numbers it has met.
func (d *Desk) fit(ctx context.Context, before *Desk) (err error) {
	d.model = body.Published(d.Scheme())
	if d.book == nil {
		return nil
	}
	var good []orderbook.DeskForm
	if len(d.practice.of[0])+len(d.practice.of[1]) > 0 { // no order is mature in a young book
		if good, err = d.book.GoodForms(ctx, d.matureDays); err != nil {
			return err
		}
	}
	d.good = make([]form.Form, len(good))
	for i, f := range good {
		d.good[i] = formOf(f)
	}
	same := func(a, b form.Form) bool {
		return a.ID == b.ID && a.Sex == b.Sex && a.Channel == b.Channel && slices.Equal(a.Numbers, b.Numbers)
	}
	if before != nil && before.calibration != nil && before.Scheme() == d.Scheme() && slices.EqualFunc(before.good, d.good, same) {
		d.model, d.calibration = before.model, before.calibration
		return nil
	}
	d.calibration = d.model.Calibrate(d.good)
	d.model = d.model.Calibrated(d.calibration)
	return nil
}

// Book is the book that the desk goes by; nil without one.
func (d *Desk) Book() *orderbook.Reader { return d.book }

// Scheme is what the shop measures.
func (d *Desk) Scheme() form.Scheme { return form.SchemeOf(d.settings) }

// formOf is a form of a book as the model takes it.
func formOf(f orderbook.DeskForm) form.Form {
	return form.Form{ID: f.ID, Sex: form.ParseSex(f.Sex), Channel: form.ParseChannel(f.Channel), Numbers: f.Numbers}
}

// Judge judges the forms of a reader, or the one of that id.
func (d *Desk) Judge(ctx context.Context, r *orderbook.Reader, id string) ([]Judged, error) {
	if id == "" {
		return d.judge(ctx, r, "")
	}
	return d.judge(ctx, r, "form_id = ?", id)
}

// JudgeInBook judges a form that is in the desk's book.
func (d *Desk) JudgeInBook(ctx context.Context, id string) ([]Judged, error) {
	if d.book == nil {
		return nil, workshop.ErrNoBook
	}
	return d.Judge(ctx, d.book, id)
}

// judge judges the forms that the condition where over the view form f names.
func (d *Desk) judge(ctx context.Context, r *orderbook.Reader, where string, args ...any) ([]Judged, error) {
	list, err := r.DeskForms(ctx, where, args...)
	if err != nil {
		return nil, err
	}
	return d.judgeAll(ctx, r, list)
}

// judgeAll judges forms of a reader.
func (d *Desk) judgeAll(ctx context.Context, r *orderbook.Reader, list []orderbook.DeskForm) ([]Judged, error) {
	past, err := d.pastOf(ctx, list)
	if err != nil {
		return nil, err
	}
	var held []map[string]bool
	if len(d.rules) > 0 {
		if held, err = r.HoldForms(ctx, d.rules, list); err != nil {
			return nil, workshop.BadInput(err)
		}
	}
	out := make([]Judged, len(list))
	var workers sync.WaitGroup
	for part := range slices.Chunk(d.bySet(list), 1+len(list)/runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			for _, i := range part {
				if ctx.Err() == nil {
					out[i] = d.one(list[i], earlierOf(list[i], past), held)
				}
			}
		})
	}
	workers.Wait()
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return out, d.risks(ctx, r, out)
}

// bySet are the places of forms in a list, those of one set of numbers together.
func (d *Desk) bySet(list []orderbook.DeskForm) []int {
	at, sets := make([]int, len(list)), make([]string, len(list))
	for i, f := range list {
		at[i], sets[i] = i, d.model.SetOf(formOf(f))
	}
	slices.SortStableFunc(at, func(a, b int) int { return strings.Compare(sets[a], sets[b]) })
	return at
}

// one judges one form.
func (d *Desk) one(f orderbook.DeskForm, past []pastForm, held []map[string]bool) Judged {
	var earlier []body.Earlier
	for _, p := range past {
		earlier = append(earlier, body.Earlier{Form: formOf(p.DeskForm), Years: p.years})
	}
	out := Judged{DeskForm: f, past: past, check: d.model.Check(formOf(f), earlier, d.falseAlarms)}
	facts := desk.Facts{FormID: f.ID, Missing: f.Missing}
	for k, s := range statesOf(f.Faults, out.check.Evidence) {
		switch s {
		case form.With:
			facts.Faults = append(facts.Faults, form.Faults[k].ID)
		case form.Unknown:
			facts.Unknown = append(facts.Unknown, form.Faults[k].ID)
		}
	}
	for i, r := range d.rules {
		if held[i][f.ID] && r.InForceOn(f.Received) {
			facts.Rules = append(facts.Rules, r.Title)
		}
	}
	out.Decision = desk.Decide(facts, out.check)
	return out
}

// statesOf are the states of the faults with those read off the numbers taken
// from this evidence.
func statesOf(states []form.State, e body.Evidence) []form.State {
	out := append([]form.State{}, states...)
	for k, fault := range form.Faults {
		if fault.Kind != form.Evident {
			continue
		}
		// Sides may be copied where there are both; whether they are is unknown
		// where the numbers don't say.
		if answer := e.Of(fault.ID); fault.AtRisk == form.EveryForm || out[k] != form.NotAtRisk && answer != body.Unjudged {
			out[k] = stateOf(answer)
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

// pastOf are the earlier forms in the book of the customers of the list.
func (d *Desk) pastOf(ctx context.Context, list []orderbook.DeskForm) ([]orderbook.DeskForm, error) {
	if d.book == nil {
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
	key := "forms\x00" + strings.Join(customers, "\x1f") + "\x00" + strings.Join(orders, "\x1f")
	past, err := recall(d.recalled, len(list), key, func() ([]orderbook.DeskForm, error) { return d.book.EarlierCutForms(ctx, customers, orders) })
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

// CheckedOf is the JSON of a check.
func CheckedOf(list []Judged) desk.Checked {
	d := desk.Checked{Forms: make([]desk.Decision, len(list))}
	for i, f := range list {
		d.Forms[i] = f.Decision
		d.ThresholdFrom = f.Decision.Threshold.From // the same for all
		if f.Decision.Threshold.Given {
			d.Threshold = &f.Decision.Threshold.Least
		}
	}
	return d
}
