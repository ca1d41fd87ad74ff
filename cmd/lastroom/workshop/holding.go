package workshop

import (
	"context"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
)

// A Foresight is what a desk tells risks by: the kept model, what things cost, and
// which doubts hold a form.
type Foresight struct {
	Learnt    *risk.Learnt
	Price     risk.Price
	Threshold desk.Threshold
}

// Foresight is that of a state of the book; share is that of first forms that may be
// held (0: the shop's setting, or as many as pay).
func (s *State) Foresight(ctx context.Context, share float64) (f Foresight, err error) {
	if f.Learnt, err = s.Risks(ctx); err != nil {
		return f, err
	}
	if f.Price, err = s.CallPrice(ctx); err != nil {
		return f, err
	}
	f.Threshold, err = s.threshold(ctx, f.Learnt, f.Price, share)
	return f, err
}

// threshold says which doubts hold a form at the desk: those worth a call-back by the
// costs, of at most a share of first forms (0: as many as pay).
func (s *State) threshold(ctx context.Context, l *risk.Learnt, p risk.Price, share float64) (desk.Threshold, error) {
	if !l.Shown() {
		why := l.Model.Why
		if why == "" {
			why = "the risk model foresees no better than simpler ways on this book"
		}
		return desk.EveryDoubt(why), nil
	}
	t := desk.ByCosts(p)
	share, err := s.holdShare(ctx, share)
	if err != nil || share <= 0 {
		return t, err
	}
	if _, err := s.HoldFirstForms(ctx); err != nil {
		return t, err
	}
	avoids, m := avoidsOf(l, s.orders, p), remakes.MatureAfter(s.orders, 0)
	var firm []bool
	var of []float64
	for i, h := range desk.Firm(s.desk) {
		if h != form.NotAtRisk && m.Is(s.orders, i) {
			firm, of = append(firm, h == form.With), append(of, avoids[i])
		}
	}
	return t.BySharing(share, firm, of), nil
}

// holdShare is the share of first forms that may be held: what was asked for, or the
// shop's setting; 0: as many as pay.
func (s *State) holdShare(ctx context.Context, asked float64) (float64, error) {
	if asked > 0 {
		return asked, nil
	}
	settings, err := s.Settings(ctx)
	share, wrong := strconv.ParseFloat(settings["hold_share"], 64)
	if wrong != nil {
		return 0, err
	}
	return share, err
}

// avoidsOf is how many remakes a call-back about each first form of a cohort can be
// expected to avoid.
func avoidsOf(l *risk.Learnt, c *cohort.Cohort, p risk.Price) []float64 {
	falls := l.FallsOfFirst(c)
	for i := range falls {
		falls[i] *= p.Success
	}
	return falls
}

// HoldDesk is what the desk would have held of the orders.
func (s *State) HoldDesk(ctx context.Context, share float64) ([]rules.DeskHeld, error) {
	if _, err := s.HoldFirstForms(ctx); err != nil {
		return nil, err
	}
	p, err := s.CallPrice(ctx)
	if err != nil {
		return nil, err
	}
	if share, err = s.holdShare(ctx, share); err != nil {
		return nil, err
	}
	if p.Why != "" && share <= 0 { // no model is needed to know that
		return desk.Lines(s.desk, nil, desk.ByCosts(p)), nil
	}
	l, err := s.Risks(ctx)
	if err != nil {
		return nil, err
	}
	t, err := s.threshold(ctx, l, p, share)
	if err != nil || !t.Given {
		return desk.Lines(s.desk, nil, t), err
	}
	return desk.Lines(s.desk, avoidsOf(l, s.orders, p), t), nil
}
