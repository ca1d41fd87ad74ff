package workshop

import (
	"context"
	"fmt"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/reports/sheet"
)

// SheetOrders are orders of a book as measuring sheets are printed for them, and
// the scheme that the shop measures by. A form is numbered by its order and how
// many forms that has.
func SheetOrders(ctx context.Context, book string, ids []string) ([]sheet.Order, form.Scheme, error) {
	r, err := OpenReader(ctx, book, cohort.NoDay)
	if err != nil {
		return nil, form.Scheme{}, err
	}
	defer r.Close()
	settings, err := r.Settings(ctx)
	if err != nil {
		return nil, form.Scheme{}, err
	}
	var out []sheet.Order
	for _, id := range ids {
		o, found, err := r.Order(ctx, id)
		if err != nil {
			return nil, form.Scheme{}, err
		}
		if !found {
			return nil, form.Scheme{}, BadInput(fmt.Errorf("the book has no order %q", id))
		}
		shaft, err := strconv.ParseFloat(o.Order.Get("shaft_height_mm"), 64)
		if err != nil {
			return nil, form.Scheme{}, BadInput(fmt.Errorf("order %s has no shaft height, so it is not known which numbers its boot needs; print a sheet without the order, with --shaft-height", id))
		}
		out = append(out, sheet.Order{Form: fmt.Sprintf("%s-%d", id, len(o.Forms)+1), Number: id, Name: o.Order.Get("customer_id"),
			ShaftMM: shaft, Tucked: o.Order.Get("worn_tucked") == "true"})
	}
	return out, form.SchemeOf(settings), nil
}

// Lessons are the teaching sheets of faults, each with what the book's own orders
// show of it; without a book (w is nil) none has a figure.
func (w *Workshop) Lessons(ctx context.Context, f Finding, ids []string, p Progress) ([]sheet.Lesson, error) {
	out := make([]sheet.Lesson, len(ids))
	for i, id := range ids {
		out[i].Fault = id
	}
	if w == nil {
		return out, nil
	}
	findings, err := w.Findings(ctx, f, p)
	if err != nil {
		return nil, err
	}
	defer findings.Source.Close()
	table, err := findings.Faults(ctx)
	if err != nil {
		return nil, err
	}
	for i := range out {
		for _, one := range table.Faults {
			if one.Fault == out[i].Fault {
				out[i].Own = one.AdjustedRD
			}
		}
	}
	return out, nil
}
