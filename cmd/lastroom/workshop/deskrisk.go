package workshop

import (
	"context"
	"math"
	"strconv"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/ingest/orderbook"
)

// A foresight is what a desk tells risks by: the kept model, what things cost, and
// the body model with published values alone, by which the forms in the book were
// judged that the risk model has learnt from.
type foresight struct {
	learnt    *risk.Learnt
	price     risk.Price
	threshold desk.Threshold
	published *body.Model
}

// threshold says which doubts hold a form at the desk: those worth a call-back by the
// costs, of at most a share of first forms (0: as many as pay).
func (s *state) threshold(ctx context.Context, l *risk.Learnt, p risk.Price, share float64) (desk.Threshold, error) {
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
func (s *state) holdShare(ctx context.Context, asked float64) (float64, error) {
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
func (s *state) HoldDesk(ctx context.Context, share float64) ([]rules.DeskHeld, error) {
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

// foresee gives the desk of a book the model that serves it.
func (d *Desk) foresee(ctx context.Context, s *state) (err error) {
	f := foresight{published: body.NewModel(d.Scheme())}
	if f.learnt, err = s.Risks(ctx); err != nil {
		return err
	}
	if f.price, err = s.CallPrice(ctx); err != nil {
		return err
	}
	if f.threshold, err = s.threshold(ctx, f.learnt, f.price, d.holdShare); err != nil {
		return err
	}
	d.foresight = &f
	return nil
}

// risks tells the remake risks of judged forms of a reader, which need not be the
// desk's book, and lets through the doubts that are not worth a call-back.
func (d *Desk) risks(ctx context.Context, r *orderbook.Reader, list []Judged) error {
	if d.foresight == nil {
		for i := range list {
			list[i].Decision.Threshold = desk.EveryDoubt("without a book nobody knows what it is worth")
		}
		return nil
	}
	var customers []string
	for _, f := range list {
		if f.Customer != "" {
			customers = append(customers, f.Customer)
		}
	}
	pairs := map[string][]orderbook.EarlierPair{}
	if len(customers) > 0 {
		var err error
		pairs, err = recall(d.recalled, len(list), "pairs\x00"+customers[0], func() (map[string][]orderbook.EarlierPair, error) { return d.book.EarlierPairs(ctx, customers) })
		if err != nil {
			return err
		}
	}
	first := firstForms(list)
	for i := range list {
		f := &list[i]
		c := d.caseOf(f, historyOf(f.DeskForm, pairs[f.Customer]))
		switch of := first[f.Order]; {
		case of != nil && of != f:
			c.First = d.caseOf(of, 0).Cut
		case f.No > 1:
			// It was asked for alone: what it was before stands in its reader.
			known, err := r.CaseOf(ctx, f.Order)
			if err != nil {
				return err
			}
			if len(known) == 1 {
				c.First = known[0].First
			}
		}
		of := d.foresight.learnt.Of(c, d.foresight.price)
		of.OrderID, of.FormID = f.Order, f.ID
		f.Decision.Weigh(of, d.foresight.threshold, f.check)
	}
	return nil
}

// firstForms are the forms with the lowest number of each order.
func firstForms(list []Judged) map[string]*Judged {
	first := map[string]*Judged{}
	for i := range list {
		if f := &list[i]; first[f.Order] == nil || f.No < first[f.Order].No {
			first[f.Order] = f
		}
	}
	return first
}

// caseOf is a form as the risk model sees it.
func (d *Desk) caseOf(f *Judged, h risk.History) *risk.Case {
	c := d.foresight.published.Check(formOf(f.DeskForm), nil, d.falseAlarms)
	states := statesOf(f.Faults, c)
	return &risk.Case{Received: f.Received, Cut: states, First: states, Alarm: math.Round(100*math.Min(600, c.Score)) / 100, ShaftMM: f.ShaftMM,
		Closure: f.Closure, Channel: f.Channel, Sock: f.Sock, Sex: f.Sex, Tucked: f.Tucked, Orthotic: f.Orthotic, Measurer: f.Measurer, History: h}
}

// historyOf is what was known of a form's customer when it came in.
func historyOf(f orderbook.DeskForm, pairs []orderbook.EarlierPair) risk.History {
	h := risk.FirstPair
	for _, p := range pairs {
		switch {
		case p.Order == f.Order, f.Received.Known() && p.Shipped >= f.Received:
		case p.Remade.Known() && (!f.Received.Known() || p.Remade < f.Received):
			return risk.RemadeBefore
		default:
			h = risk.OrderedAgain
		}
	}
	return h
}

// riskOfOrder is the risk of an order in the book, as lastroom risk tells it; none
// where it has no form or the desk no model.
func (d *Desk) riskOfOrder(ctx context.Context, id string) (*risk.OrderRisk, error) {
	if d.foresight == nil {
		return nil, nil
	}
	known, err := d.book.CaseOf(ctx, id)
	if err != nil || len(known) != 1 {
		return nil, err
	}
	of := d.foresight.learnt.Of(&known[0].Case, d.foresight.price)
	of.OrderID, of.FormID, of.Stage = known[0].ID, known[0].FormID, known[0].Stage
	return &of, nil
}
