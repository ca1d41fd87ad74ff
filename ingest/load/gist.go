package load

import (
	"context"
	"fmt"

	"lastroom/ingest/engine"
	"lastroom/ingest/rejects"
)

// A Gist is what a load amounts to in orders: what a person checks before
// trusting it.
type Gist struct {
	Orders       int64  `json:"orders"` // of which the load brought anything
	WithForms    int64  `json:"with_forms"`
	WithNumbers  int64  `json:"with_numbers"`
	WithReports  int64  `json:"with_reports"`
	Numbers      int64  `json:"numbers"`
	Tucked       int64  `json:"tucked_numbers"`
	FirstDay     string `json:"first_day"` // received
	LastDay      string `json:"last_day"`
	Shipped      int64  `json:"shipped"`
	Remade       int64  `json:"remade"`
	RemadeNoDay  int64  `json:"remade_without_day"` // of them, with no day of any remake
	FormsNoOrder int64  `json:"forms_without_order"`
	// Extremes are the readings that lie farthest from the middle of their
	// place, as a ratio.
	Extremes []Extreme       `json:"extremes"`
	Reasons  []rejects.Cause `json:"reasons"` // the most frequent ones for rows kept out
}

// An Extreme is a reading of a form and the middle of that place's readings.
type Extreme struct {
	Form     string  `json:"form_id"`
	Place    string  `json:"place"`
	Written  string  `json:"written"`
	MM       float64 `json:"mm"`
	MiddleMM float64 `json:"middle_mm"`
}

const (
	mostExtremes = 10
	mostReasons  = 5
)

// gist works out what the load amounts to, out of the working copy.
func (l *loader) gist(ctx context.Context) (*Gist, error) {
	g := &Gist{Extremes: []Extreme{}, Reasons: rejects.Causes(l.report.KeptOut, mostReasons)}
	load := fmt.Sprint(l.loadID)
	if err := l.exec(ctx, engine.Section(reportSQL, "brought", "{load}", load)); err != nil {
		return nil, err
	}
	err := l.conn.QueryRowContext(ctx, engine.Section(reportSQL, "gist")).Scan(&g.Orders, &g.WithForms, &g.WithNumbers, &g.WithReports, &g.Numbers, &g.Tucked,
		&g.FirstDay, &g.LastDay, &g.Shipped, &g.Remade, &g.RemadeNoDay, &g.FormsNoOrder)
	if err != nil {
		return nil, err
	}
	if g.FormsNoOrder > 0 {
		l.report.Notes = append(l.report.Notes, fmt.Sprintf("%d %s of an order that is not in the book, as when its row was kept out or has ended; they count once the order is there",
			g.FormsNoOrder, plural(int(g.FormsNoOrder), "form is", "forms are")))
	}
	if g.RemadeNoDay > 0 {
		l.report.Notes = append(l.report.Notes, fmt.Sprintf("%d of %d remade orders have no day of the remake: they count as remade, but not in what needs the day (how late reports come, curves, young months) until it is written in",
			g.RemadeNoDay, g.Remade))
	}
	// The different readings of each place: there are few, however many numbers
	// were loaded.
	rows, err := engine.Texts(ctx, l.conn, engine.Section(reportSQL, "extremes", "{load}", load, "{most}", fmt.Sprint(mostExtremes)))
	for _, r := range rows {
		e := Extreme{Form: r[0], Place: r[1], Written: r[2]}
		if _, err := fmt.Sscan(r[3]+" "+r[4], &e.MM, &e.MiddleMM); err != nil {
			return nil, err
		}
		g.Extremes = append(g.Extremes, e)
	}
	return g, err
}
