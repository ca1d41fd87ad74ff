package judging

import (
	"context"
	"math"

	"lastroom/analysis/body"
	"lastroom/analysis/desk"
	"lastroom/analysis/risk"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/orderbook"
)

// A foresight is what a desk tells risks by, with the body model of published values
// alone, by which the forms in the book were judged that the risk model has learnt from.
type foresight struct {
	workshop.Foresight
	published *body.Model
}

// Foresee gives the desk of a book the model that serves it; share is that of first forms
// that may be held, 0: as many as pay.
func (d *Desk) Foresee(ctx context.Context, s *workshop.State, share float64) error {
	f, err := s.Foresight(ctx, share)
	if err != nil {
		return err
	}
	d.foresight = &foresight{f, body.Published(d.Scheme())}
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
		of := d.foresight.Learnt.Of(c, d.foresight.Price)
		of.OrderID, of.FormID = f.Order, f.ID
		f.Decision.Weigh(of, d.foresight.Threshold, f.check)
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
	c := d.foresight.published.Evidence(formOf(f.DeskForm), d.falseAlarms)
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

// RiskOfOrder is the risk of an order in the book, as lastroom risk tells it; none
// where it has no form or the desk no model.
func (d *Desk) RiskOfOrder(ctx context.Context, id string) (*risk.OrderRisk, error) {
	if d.foresight == nil {
		return nil, nil
	}
	known, err := d.book.CaseOf(ctx, id)
	if err != nil || len(known) != 1 {
		return nil, err
	}
	of := d.foresight.Learnt.Of(&known[0].Case, d.foresight.Price)
	of.OrderID, of.FormID, of.Stage = known[0].ID, known[0].FormID, known[0].Stage
	return &of, nil
}
