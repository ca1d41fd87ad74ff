package keeping

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/ingest/keyed"
	"lastroom/ingest/lengths"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service/formdesk"
	"lastroom/reports/page"
)

// tallest is the height up to which the page has rows for leg girths.
const tallest = 18 * 25.4

// Heights are those of the shop's scheme.
func (d *Desk) Heights(ctx context.Context) (out []form.Height, err error) {
	err = d.pages.WithDesk(ctx, func(w *judging.Desk, _ string) error {
		out = w.Scheme().Heights(tallest)
		return nil
	})
	return out, err
}

// Check judges a form that is typed in. What can't be read holds it, and is said
// beside its field; the rest is judged without.
func (d *Desk) Check(ctx context.Context, f formdesk.Form, why bool) (answer *formdesk.Answer, err error) {
	err = d.pages.WithDesk(ctx, func(w *judging.Desk, hash string) error {
		wrong := unreadable(f)
		good := without(f, wrong)
		found, err := d.look(ctx, w, hash, good)
		if err != nil {
			return err
		}
		judged, err := w.JudgeTyped(ctx, typedOf(found.fill(good)))
		if err != nil {
			return err
		}
		if judged.ID = f.ID; f.ID == "" {
			judged.ID = "as typed in"
		}
		judged.Decision.FormID = judged.ID
		answer = answerOf(w, good, judged, why)
		answer.Pairs, answer.Notes = found.pairs, found.notes(good)
		if found.form != "" {
			answer.Says[formdesk.FieldForm] = "the book has a form of this number already, of order " + found.form
		}
		maps.Copy(answer.Says, wrong)
		if len(wrong) > 0 {
			answer.Wrong, answer.Verdict, answer.Letter = true, "mend what can't be read", nil
		}
		return nil
	})
	return answer, err
}

// unreadable says of each field what can't be read in it.
func unreadable(f formdesk.Form) formdesk.Wrong {
	wrong := formdesk.Wrong{}
	length := func(field, text string, unit form.Unit) {
		if text == "" {
			return
		}
		if _, err := lengths.Parse(text, unit, lengths.Options{DecimalComma: true}); err != nil {
			wrong[field] = fmt.Sprintf("%q %v", text, err)
		}
	}
	for _, n := range f.Numbers {
		length(formdesk.FieldOf(n.Place), n.Value, f.Unit)
	}
	length(formdesk.FieldShaft, f.Shaft, f.ShaftUnit)
	if f.Received != "" {
		if _, err := cohort.ParseDay(f.Received); err != nil {
			wrong[formdesk.FieldReceived] = fmt.Sprintf("%q is no day; write it as 2026-03-31", f.Received)
		}
	}
	return wrong
}

// without leaves out what can't be read.
func without(f formdesk.Form, wrong formdesk.Wrong) formdesk.Form {
	f.Numbers = slices.DeleteFunc(slices.Clone(f.Numbers), func(n formdesk.Number) bool { return wrong[formdesk.FieldOf(n.Place)] != "" })
	if wrong[formdesk.FieldShaft] != "" {
		f.Shaft = ""
	}
	if wrong[formdesk.FieldReceived] != "" {
		f.Received = ""
	}
	return f
}

func answerOf(w *judging.Desk, f formdesk.Form, got judging.Judged, why bool) *formdesk.Answer {
	a := &formdesk.Answer{Verdict: string(got.Decision.Verdict), Says: map[string]string{}}
	if why {
		a.Doc = w.Explain(got)
		if ask, ok := w.Asks(got); ok {
			a.Letter = func(language string) *page.Document { return letterOf(ask, language) }
		}
	}
	for _, n := range f.Numbers {
		for _, x := range got.Decision.Doubts {
			if field := formdesk.FieldOf(n.Place); n.Place == x.Place && a.Says[field] == "" { // the first is the likeliest
				a.Says[field] = doubtWords(x, f.Unit)
			}
		}
	}
	return a
}

// doubtWords say a doubt beside its number.
func doubtWords(x desk.Doubt, unit form.Unit) string {
	words := "look again: " + x.Words
	if x.ExpectedMM != nil && x.LowMM != nil && x.HighMM != nil {
		words = fmt.Sprintf("look again: by the others %s (%s to %s)", unit.Text(*x.ExpectedMM), unit.Text(*x.LowMM), unit.Text(*x.HighMM))
		if x.Words != "" {
			words += "; " + x.Words
		}
	}
	return strings.TrimSpace(words)
}

// A lookup is what the book has of the order and the customer that are typed.
type lookup struct {
	order orderbook.Row   // of the order; without cells where the book has none
	forms int             // how many other forms the book has for the order
	form  string          // the order of a keyed form of that id, that the desk did not keep
	pairs []formdesk.Pair // of the customer
}

// mostLooked is how many answers of the book are kept until it changes.
const mostLooked = 200

// look looks up in the book what a form names. It is asked at each key, so the
// answers are kept as long as the book is the same.
func (d *Desk) look(ctx context.Context, w *judging.Desk, hash string, f formdesk.Form) (l lookup, err error) {
	if w.Book() == nil {
		return l, nil
	}
	key := strings.Join([]string{f.OrderID, f.ID, f.Customer}, "\x00")
	d.mu.Lock()
	if d.state != hash || len(d.seen) > mostLooked {
		d.state, d.seen = hash, map[string]lookup{}
	}
	l, known := d.seen[key]
	d.mu.Unlock()
	if !known {
		if l, err = find(ctx, w.Book(), f); err != nil {
			return l, err
		}
		d.mu.Lock()
		if d.state == hash {
			d.seen[key] = l
		}
		d.mu.Unlock()
	}
	if l.form != "" { // what the desk itself kept may be typed again
		if r, err := d.store.Get(f.OrderID); err == nil {
			if _, ours := r.Form(f.ID); ours {
				l.form = ""
			}
		} else if !errors.Is(err, keyed.ErrNone) {
			return l, err
		}
	}
	return l, nil
}

func find(ctx context.Context, book *orderbook.Reader, f formdesk.Form) (l lookup, err error) {
	customer := f.Customer
	if f.OrderID != "" {
		o, found, err := book.Order(ctx, f.OrderID)
		if err != nil {
			return l, err
		}
		if found {
			l.order = o.Order
			for _, of := range o.Forms {
				if of.ID != f.ID {
					l.forms++
				}
			}
			if customer == "" {
				customer = o.Order.Get("customer_id")
			}
		}
	}
	if f.ID != "" {
		order, found, err := book.OrderOfForm(ctx, f.ID)
		if err != nil {
			return l, err
		}
		if found {
			// A form whose paper was noted but not keyed is keyed here.
			numbers, err := book.Numbers(ctx, f.ID)
			if err != nil {
				return l, err
			}
			if len(numbers) > 0 || order != f.OrderID {
				l.form = order
			}
		}
	}
	if customer == "" {
		return l, nil
	}
	ids, err := book.OrdersOf(ctx, customer)
	if err != nil {
		return l, err
	}
	ids = slices.DeleteFunc(ids, func(id string) bool { return id == f.OrderID })
	const most = 6
	lines, err := book.OrderLines(ctx, ids[max(0, len(ids)-most):])
	for _, x := range slices.Backward(lines) {
		words := "shaft " + cmp.Or(x.Shaft, "not known") + ", "
		if x.Shipped.Known() {
			words += "shipped " + x.Shipped.String() + ", " + cmp.Or(x.Reports, "no report of fit")
		} else {
			words += "not shipped yet"
		}
		l.pairs = append(l.pairs, formdesk.Pair{Order: x.ID, Words: words})
	}
	return l, err
}

// inBook is what the book says of an order's column, as the page writes it.
func (l lookup) inBook(column string) string {
	switch v := l.order.Get(column); v {
	case "true":
		return "yes"
	case "false":
		return "no"
	default:
		return v
	}
}

// fill takes from the book what is not typed of the order.
func (l lookup) fill(f formdesk.Form) formdesk.Form {
	order := map[string]string{}
	for column, answer := range f.Order {
		order[column] = cmp.Or(answer, l.inBook(column))
	}
	f.Order, f.Customer = order, cmp.Or(f.Customer, l.inBook("customer_id"))
	if mm := l.inBook("shaft_height_mm"); f.Shaft == "" && mm != "" {
		f.Shaft, f.ShaftUnit = mm, form.Millimetre
	}
	return f
}

// notes say what was taken from the book, and where it says otherwise.
func (l lookup) notes(f formdesk.Form) (out []string) {
	if len(l.order.Cells) == 0 {
		return nil
	}
	var filled []string
	tell := func(label, typed, book string, same bool) {
		switch {
		case book == "" || typed != "" && same:
		case typed == "":
			filled = append(filled, label+" "+book)
		default:
			out = append(out, fmt.Sprintf("The book has %s %s for this order; what is kept changes it to %s.", label, book, typed))
		}
	}
	tell("customer", f.Customer, l.inBook("customer_id"), f.Customer == l.inBook("customer_id"))
	shaft, _ := strconv.ParseFloat(l.inBook("shaft_height_mm"), 64)
	text := ""
	if shaft > 0 {
		text = f.ShaftUnit.Text(shaft)
	}
	typed := ""
	if f.Shaft != "" {
		typed = f.Shaft + " " + f.ShaftUnit.String()
	}
	tell("shaft", typed, text, l.sameShaft(f))
	for _, q := range desk.Questions {
		tell(q.Label, f.Order[q.Column], l.inBook(q.Column), f.Order[q.Column] == l.inBook(q.Column))
	}
	if len(filled) > 0 {
		out = append([]string{"From the book, since it is not typed: " + strings.Join(filled, ", ") + "."}, out...)
	}
	return out
}

// sameShaft reports whether the shaft typed is that of the book.
func (l lookup) sameShaft(f formdesk.Form) bool {
	book, err := strconv.ParseFloat(l.inBook("shaft_height_mm"), 64)
	if err != nil {
		return false
	}
	mm, err := lengths.Parse(f.Shaft, f.ShaftUnit, lengths.Options{DecimalComma: true})
	return err == nil && math.Abs(mm-book) < 0.05
}
