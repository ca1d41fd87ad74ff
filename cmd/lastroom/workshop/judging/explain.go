package judging

import (
	"maps"
	"math"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/orderbook"
	"lastroom/reports/letter"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// Explain is the page that says why.
func (d *Desk) Explain(f Judged) *page.Document {
	p := review.ExplainPage(d.explained(f))
	p.Provenance.Version = workshop.Version()
	if d.book != nil {
		p.Provenance.AsOf, p.Provenance.BookHash = d.book.AsOf(), d.book.ContentHash()
	} else {
		p.Provenance.AsOf = f.Received
	}
	return p
}

func (d *Desk) explained(f Judged) review.Explained {
	x := review.Explained{Decision: f.Decision, Check: f.check, Form: formOf(f.DeskForm), Facts: deskFacts(f), Model: d.model, Calibration: d.calibration}
	for _, name := range slices.Sorted(maps.Keys(d.settings)) {
		x.Settings = append(x.Settings, [2]string{strings.ReplaceAll(name, "_", " "), d.settings[name]})
	}
	for _, p := range f.past {
		x.Past = append(x.Past, review.PastForm{Form: formOf(p.DeskForm), Order: p.Order, Received: p.Received})
	}
	return x
}

// Seen is a form in the book as the desk reads its numbers, without rules or the
// customer's other orders.
func (d *Desk) Seen(f orderbook.FormSeen, numbers []form.Number) review.Explained {
	own := *d
	own.rules = nil
	return own.explained(own.one(orderbook.DeskForm{ID: f.ID, Order: f.Order, No: f.No, Sex: f.Facts.Get("sex"), Channel: f.Facts.Get("channel"),
		Faults: f.Faults, Numbers: numbers, Received: cohort.NoDay, ShaftMM: math.NaN()}, nil, nil))
}

// deskFacts are what the desk went by besides the numbers.
func deskFacts(f Judged) [][2]string {
	facts := [][2]string{{"order", f.Order}, {"received", f.Received.String()}, {"measured by", f.Channel}}
	switch f.Sex {
	case "f":
		facts = append(facts, [2]string{"range judged by", "women"})
	case "m":
		facts = append(facts, [2]string{"range judged by", "men"})
	default:
		facts = append(facts, [2]string{"range judged by", "women and men together"})
	}
	shaft := "not known, so no leg heights were asked for"
	if f.ShaftMM > 0 {
		shaft = unitOf(f.Numbers).Text(f.ShaftMM) + " above the floor"
	}
	facts = append(facts, [2]string{"shaft", shaft})
	if len(f.Decision.Unknown) > 0 {
		facts = append(facts, [2]string{"faults nobody noted either way", strings.Join(f.Decision.Unknown, ", ")})
	}
	return facts
}

// Letter is the call-back letter of a form; false where nothing has to be
// asked.
func (d *Desk) Letter(l *letter.Language, f Judged) (*letter.Letter, bool) {
	ask, ok := d.Asks(f)
	return letter.Write(l, ask), ok
}

// Asks is what that letter asks for.
func (d *Desk) Asks(f Judged) (letter.Ask, bool) {
	ask, ok := letter.FromDecision(f.Decision, f.Received, unitOf(f.Numbers))
	ask.Scheme = d.Scheme()
	return ask, ok
}

// unitOf is the unit that most numbers of a form were written in; inches where
// there are none.
func unitOf(numbers []form.Number) form.Unit {
	n := map[form.Unit]int{}
	best := form.Inch
	for _, x := range numbers {
		if n[x.Unit]++; n[x.Unit] > n[best] {
			best = x.Unit
		}
	}
	return best
}
