package workshop

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/nearest"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop/models"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
)

// Risks is the risk model for this state of the book: the newest kept one that was
// fitted by its day, unless the book has grown beyond it (risk.Learnt.Stale). Then
// one is fitted; that of the newest state is kept as the next version.
func (s *State) Risks(ctx context.Context) (*risk.Learnt, error) {
	s.learning.Lock()
	defer s.learning.Unlock()
	if s.learnt != nil {
		return s.learnt, nil
	}
	c, err := s.Cohort(ctx)
	if err != nil {
		return nil, err
	}
	list, err := models.Read(s.workshop.files())
	if err != nil {
		return nil, err
	}
	version := 0
	for _, l := range list {
		version = max(version, l.Version)
		if l.AsOf <= s.facts.AsOf {
			s.learnt = l
		}
	}
	if s.learnt != nil && (s.learnt.BookHash == s.facts.Hash && s.learnt.AsOf == s.facts.AsOf || s.learnt.Stale(c) == "") && s.learnt.Rules == s.rules.Key {
		return s.learnt, nil
	}
	s.learnt = nil
	l, err := s.learn(ctx, c)
	if err != nil {
		return nil, err
	}
	newest, err := s.workshop.State(ctx)
	if err != nil {
		return nil, err
	}
	if newest.Hash == s.facts.Hash && newest.AsOf == s.facts.AsOf {
		l.Version = version + 1
		err := models.Keep(s.workshop.files(), l)
		if errors.Is(err, fs.ErrPermission) {
			l.Version = 0 // beside a book that may only be read it serves this once
		} else if err != nil {
			return nil, fmt.Errorf("keeping the risk model beside the book: %w", err)
		}
	}
	s.learnt = l
	return l, nil
}

// Fits are the models of the orders that were fitted so far.
func (s *State) Fits() *risk.Fits { return &s.fits }

// learn fits the model, or finds what was fitted before on the same state.
func (s *State) learn(ctx context.Context, c *cohort.Cohort) (*risk.Learnt, error) {
	key := cache.Key("risk", cache.Program(), s.facts.Hash, s.facts.AsOf.String(), s.rules.Key)
	l, err := cache.Of(s.workshop.cache(), key, func() (*risk.Learnt, error) {
		o := risk.Options{Resamples: resamples, Seed: 1, Fits: s.Fits()}
		if applied, err := s.HoldFirstForms(ctx); err == nil {
			o.Held, o.HeldBy = heldByAny(applied, s.facts.AsOf)
		} else if ctx.Err() != nil {
			return nil, err
		}
		if len(s.desk) > 0 {
			o.Strategies = []risk.Strategy{{Name: "the desk", Held: desk.Firm(s.desk), Weighed: true}, {Name: "the desk, every doubt held", Held: desk.Doubted(s.desk)}}
		}
		price, err := s.CallPrice(ctx)
		if err != nil {
			return nil, err
		}
		o.Success = price.Success
		return risk.Learn(ctx, c, o)
	})
	if err != nil {
		return nil, err
	}
	l.BookHash, l.Program, l.Rules = s.facts.Hash, Program(), s.rules.Key
	return l, l.Ready()
}

// resamples are behind the optimism of the model.
const resamples = 100

// heldByAny says of each first form whether a rule in force holds it; where none
// is in force, whether any rule of the file would.
func heldByAny(applied []rules.Applied, day cohort.Day) ([]form.State, string) {
	in, by := applied[:0:0], "the shop's rules in force"
	for _, a := range applied {
		if a.InForceOn(day) {
			in = append(in, a)
		}
	}
	if len(in) == 0 {
		in, by = applied, "rules of the file (none is in force)"
	}
	if len(in) == 0 {
		return nil, ""
	}
	out := slices.Clone(in[0].Held)
	for _, a := range in[1:] {
		for i, h := range a.Held {
			if h == form.With {
				out[i] = form.With
			}
		}
	}
	return out, by
}

// CallPrice is what remakes and call-backs cost here, and what call-backs have done.
func (s *State) CallPrice(ctx context.Context) (risk.Price, error) {
	p := risk.Price{Remake: math.NaN(), Call: math.NaN()}
	costs, err := s.Costs(ctx)
	if err != nil {
		return p, err
	}
	c, err := s.Cohort(ctx)
	if err != nil {
		return p, err
	}
	calls, err := s.CallBacks(ctx, c)
	if err != nil {
		return p, err
	}
	of := rules.CallsOf(c, calls, rules.Options{Costs: costs})
	p.Success, p.SE = of.Success, of.SE
	if costs.Remake != nil {
		p.Remake = *costs.Remake
	}
	if costs.Callback != nil {
		p.Call = *costs.Callback
		if costs.DayOfDelay != nil && of.Days.Given() {
			p.Call += *costs.DayOfDelay * of.Days.Point
		}
	}
	switch {
	case costs.Remake == nil && costs.Callback == nil:
		p.Why = "what a remake and a call-back cost is not known (costs sheet, --cost-remake, --cost-callback)"
	case costs.Remake == nil:
		p.Why = "what a remake costs is not known (costs sheet, --cost-remake)"
	case costs.Callback == nil:
		p.Why = "what a call-back costs is not known (costs sheet, --cost-callback)"
	}
	return p, nil
}

// A RiskQuestion says whose risks are asked for.
type RiskQuestion struct {
	AsOf    cohort.Day
	All     bool   // every order with a form, not only the open ones
	Order   string // one order; "": all that are asked for
	Version int    // the kept model to answer by; 0: the one that serves
}

// Risk is the risks of the book's orders, and which state of it they are of.
func (w *Workshop) Risk(ctx context.Context, q RiskQuestion, p Progress) (*risk.Report, notebooks.Facts, error) {
	p("reading the order book", 0, 0)
	s, err := w.Look(ctx, q.AsOf)
	if err != nil {
		return nil, notebooks.Facts{}, err
	}
	defer s.Close()
	if err := s.facts.Ordered(); err != nil {
		return nil, notebooks.Facts{}, BadInput(err)
	}
	p("fitting and validating the risk model, or finding it", 0, 0)
	l, kept, err := s.version(ctx, q.Version)
	if err != nil {
		return nil, notebooks.Facts{}, err
	}
	var orders []risk.Order
	if q.Order == "" {
		orders, err = s.Cases(ctx, q.All)
	} else if orders, err = s.CaseOf(ctx, q.Order); err == nil && len(orders) == 0 {
		err = s.noCase(ctx, q.Order)
	}
	if err != nil {
		return nil, notebooks.Facts{}, err
	}
	price, err := s.CallPrice(ctx)
	if err != nil {
		return nil, notebooks.Facts{}, err
	}
	r := l.ReportOn(s.facts.AsOf, orders, price)
	r.Kept = kept
	return &r, s.facts, nil
}

// noCase says that there is no such order with a form, and which may have been meant.
func (s *State) noCase(ctx context.Context, order string) error {
	all, err := s.Cases(ctx, true)
	if err != nil {
		return err
	}
	ids := make([]string, len(all))
	for k, o := range all {
		ids[k] = o.ID
	}
	return BadInput(fmt.Errorf("there is no order %q with a form%s", order, nearest.Hint(order, ids)))
}

// version is a kept model by its number, or the one that serves, and all there are.
func (s *State) version(ctx context.Context, number int) (l *risk.Learnt, kept []risk.Version, err error) {
	if number == 0 {
		if l, err = s.Risks(ctx); err != nil {
			return nil, nil, err
		}
	}
	list, err := models.Read(s.workshop.files())
	if err != nil {
		return nil, nil, err
	}
	kept = []risk.Version{}
	for _, k := range list {
		kept = append(kept, risk.Version{Version: k.Version, AsOf: k.AsOf, BookHash: k.BookHash})
		if number > 0 && k.Version == number {
			l = k
		}
	}
	if l == nil {
		return nil, nil, BadInput(fmt.Errorf("there is no kept risk model %d; there are %s", number, versionsInWords(kept)))
	}
	return l, kept, nil
}

func versionsInWords(kept []risk.Version) string {
	if len(kept) == 0 {
		return "none yet: lastroom risk fits the first"
	}
	var b bytes.Buffer
	for i, k := range kept {
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprintf(&b, "%d (as of %s)", k.Version, k.AsOf)
	}
	return b.String()
}
