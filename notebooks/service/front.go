package service

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/notebooks"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/service/front"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// places are the menu, in the order of the work; under names the first parts of the
// addresses that lie there. One whose page this service has not is left out.
var places = []struct {
	front.Door
	under []string
}{
	{front.Door{Address: "/review", Name: "Review", Says: "The month: what came back, what it cost, what was found."}, nil},
	{front.Door{Address: "/desk", Name: "Desk", Says: "Type in a form and see whether to cut, to ask, or to measure again; print the letter."}, nil},
	{front.Door{Address: "/rules", Name: "Rules", Says: "Which forms are held before cutting, what each rule is worth, and what was decided."}, []string{"decisions"}},
	{front.Door{Address: "/measurers", Name: "Measurers", Says: "Who measures how, told with care for small numbers."}, []string{"measurer"}},
	{front.Door{Address: "/practice", Name: "Practice", Says: "Forms to learn on, with the truth shown afterwards."}, []string{"session", "sessions"}},
	{front.Door{Address: "/sheets", Name: "Sheets", Says: "Load order sheets or the spreadsheets you keep."}, []string{"spreadsheets", "layouts"}},
	{front.Door{Address: "/notebooks", Name: "Notebooks", Says: "How every figure comes about, and questions of your own."}, []string{"notebook", "edit", "run", "runs", "compare"}},
	{front.Door{Address: "/help", Name: "Help", Says: "The work in pictures and plain words, with a list of the hard words."}, nil},
}

// A menuPlace is a place as the menu shows it.
type menuPlace struct {
	front.Door
	Here bool
}

// menu marks the place where the first part of an address lies.
func (s *Server) menu(here string) (out []menuPlace) {
	for _, p := range places {
		if s.patterns["GET "+p.Address] {
			out = append(out, menuPlace{p.Door, "/"+here == p.Address || slices.Contains(p.under, here)})
		}
	}
	return out
}

// frontBook is what the first page asks of the workshop and of the server.
type frontBook struct{ host }

// Doors are the places of the menu.
func (b frontBook) Doors() (out []front.Door) {
	for _, p := range b.s.menu("") {
		out = append(out, p.Door)
	}
	return out
}

func (b frontBook) Exists() bool                                 { return b.s.cfg.Workshop.Exists() }
func (b frontBook) Now(ctx context.Context) (*brief.Shop, error) { return b.s.cfg.Workshop.Now(ctx) }

// Due are the decisions that are to be looked at again.
func (b frontBook) Due() (out []front.Decision, err error) {
	due, err := b.s.rulebook().Due()
	for _, d := range due {
		out = append(out, front.Decision{Address: "/decisions#d-" + d.ID, Rule: d.Title, Words: d.Words, Revisit: d.Revisit})
	}
	return out, err
}

// Held counts the forms that the desk holds, typed in or from sheets.
func (b frontBook) Held(ctx context.Context) (forms, days int, err error) {
	if b.s.cfg.Desk == nil {
		return 0, 0, nil
	}
	open, err := b.s.cfg.Desk.Open(ctx)
	for _, k := range open {
		if k.Closed == "" && k.Last().Held {
			forms, days = forms+1, max(days, k.Days)
		}
	}
	if err != nil {
		return 0, 0, err
	}
	waiting, err := b.s.cfg.Desk.Waiting(ctx)
	for _, f := range waiting {
		forms, days = forms+1, max(days, f.Days)
	}
	return forms, days, err
}

// reviewNotebook is the notebook that makes the review.
const reviewNotebook = "monthly-review"

// reviews are the whole runs of the review, the newest first.
func (s *Server) reviews() (out []archive.Record, err error) {
	recs, err := s.store.List()
	for _, rec := range recs {
		if rec.Notebook == reviewNotebook && !rec.Failed() {
			out = append(out, rec)
		}
	}
	return out, err
}

// review shows the newest review under an address that stays.
func (s *Server) review(w http.ResponseWriter, r *http.Request) error {
	recs, err := s.reviews()
	if err != nil {
		return err
	}
	if len(recs) == 0 {
		var missing []string
		if s.cfg.Workshop.Exists() {
			shop, err := s.cfg.Workshop.Now(r.Context())
			if err != nil {
				return err
			}
			if shop.Chart == nil {
				missing = shop.Missing
			}
		} else {
			missing = []string{"There is no order book yet, so there is no month to tell of. Load order sheets first."}
		}
		s.render(w, r, http.StatusOK, "noreview", "Review", missing)
		return nil
	}
	r.SetPathValue("run", recs[0].ID)
	return s.run(w, r)
}

// Review is the newest review, with what came into the book since.
func (b frontBook) Review(ctx context.Context) (front.Review, error) {
	s := b.s
	recs, err := s.reviews()
	if err != nil || len(recs) == 0 {
		return front.Review{}, err
	}
	last := recs[0]
	facts, err := s.cfg.Workshop.State(ctx)
	if err != nil {
		return front.Review{}, err
	}
	out := front.Review{Address: "/run/" + last.ID, Made: last.Finished, Current: last.Facts.Hash == facts.Hash}
	out.Month, _ = last.Month()
	run, err := s.stored(last)
	if err != nil {
		return out, err
	}
	out.Findings = headlines(run.doc)
	before := earlier(recs)
	if out.Changed, out.News, err = s.told(ctx, last, before, facts.Hash); before != nil {
		out.Compare = "/compare?before=" + before.ID + "&after=" + last.ID
	}
	return out, err
}

// earlier is the review before the newest one that rests on another state of the
// book, or is of another month; nil for none.
func earlier(recs []archive.Record) *archive.Record {
	month, _ := recs[0].Month()
	for i := range recs[1:] {
		if m, _ := recs[i+1].Month(); m != month || recs[i+1].Facts.Hash != recs[0].Facts.Hash {
			return &recs[i+1]
		}
	}
	return nil
}

// headlines are the findings of a review with their places on its page.
func headlines(d *page.Document) (out []front.Headline) {
	for _, sec := range d.Sections {
		for _, b := range sec.Blocks {
			if f, ok := b.(page.Finding); ok && f.ID != "" {
				out = append(out, front.Headline{Address: "/review#" + f.ID, Words: f.Headline})
			}
		}
	}
	return out
}

// tellings keep what changed up to the newest review, and since.
type tellings struct {
	mu      sync.Mutex // held while the book is looked into: who comes meanwhile waits
	of      string     // the runs and the state of the book
	changed string
	news    []string
}

// told looks into the book for what changed, once for each state of it.
func (s *Server) told(ctx context.Context, last archive.Record, before *archive.Record, hash string) (changed string, news []string, err error) {
	of := last.ID + " " + hash
	if before != nil {
		of += " " + before.ID
	}
	t := &s.news
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.of == of {
		return t.changed, t.news, nil
	}
	ctx = context.WithoutCancel(ctx)
	if before != nil {
		ch, _, err := s.changes(ctx, last.Facts.AsOf, before.Facts)
		if err != nil {
			return "", nil, err
		}
		changed = archive.Headline(*before, last, ch)
	}
	if last.Facts.Hash != hash {
		ch, now, err := s.changes(ctx, cohort.NoDay, last.Facts)
		if err != nil {
			return "", nil, err
		}
		news = archive.BookChanged(last.Facts, now, ch)
	}
	t.of, t.changed, t.news = of, changed, news
	return changed, news, nil
}

// changes are those of the book from an earlier state to a day.
func (s *Server) changes(ctx context.Context, asOf cohort.Day, since notebooks.Facts) (cohort.Changes, notebooks.Facts, error) {
	src, err := s.cfg.Workshop.At(ctx, asOf)
	if err != nil {
		return cohort.Changes{}, notebooks.Facts{}, err
	}
	ch, err := src.Changes(ctx, since)
	return ch, src.Facts(), errors.Join(err, src.Close())
}
