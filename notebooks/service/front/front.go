// Package front holds the first page: the shop as its book tells it now, what there
// is to decide, and where the work is done. A [Book] tells it, as package reports/brief has
// counted; [Pages] choose what stands first.
package front

import (
	"bytes"
	"context"
	"embed"
	"html/template"
	"net/http"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/help"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"monthname": brief.MonthName, "dayname": brief.DayName, "count": page.Counted, "own": rules.OwnTitle,
}).ParseFS(templateFiles, "templates/*.tmpl"))

// A Book is what the first page asks of the workshop and of the server.
type Book interface {
	// Exists reports whether there is a book yet.
	Exists() bool
	// Now is the shop as the newest state of the book tells it.
	Now(ctx context.Context) (*brief.Shop, error)
	// Review is the newest run of the monthly review.
	Review(ctx context.Context) (Review, error)
	// Due are the decisions that are to be looked at again.
	Due() ([]Decision, error)
	// Held says how many forms the desk holds, and how many days the first has waited.
	Held(ctx context.Context) (forms, days int, err error)
	// Doors are the pages where the work is done.
	Doors() []Door
	topic.Behind
}

// A Review is the newest run of the monthly review. The zero Review: there is none.
type Review struct {
	Address  string
	Month    cohort.Month
	Made     time.Time
	Current  bool
	Findings []Headline
	News     []string // what came into the book since
	Changed  string   // what changed from the review before to this one; "" where there is none before
	Compare  string   // address that tells it in full
}

// A Headline is a finding of the review.
type Headline struct{ Address, Words string }

// A Decision is one that is to be looked at again.
type Decision struct {
	Address, Rule, Words string
	Revisit              cohort.Day
}

// A Door leads to a page; Says what is done there.
type Door struct{ Address, Name, Says string }

// Pages are the first page and the lists of orders that it names.
type Pages struct {
	Host topic.Host
	Book Book
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /{$}", Role: access.Reader, Handler: p.home},
		{Pattern: "GET /orders/{list}", Role: access.Reader, Handler: p.list},
	}
}

func (p *Pages) show(w http.ResponseWriter, r *http.Request, name, title string, data any) error {
	return help.Show(p.Host, w, r, topic.View{Status: http.StatusOK, Title: title, Templates: templates, Name: name, Data: data})
}

// homeShown is how many orders of a list stand on the first page.
const homeShown = 3

type homePage struct {
	Editor    bool
	Shop      *brief.Shop
	Chart     template.HTML
	Review    Review
	Due       []Decision
	Held      int // forms at the desk
	HeldDays  int
	Ask       template.HTML
	Uncut     template.HTML
	OldDays   int // the book ends so many days ago, where that is long
	Doors     []Door
	ReviewDue bool // there is none of the newest month, or it is not current
}

// oldBook is after how many days without a newer day in the book the page says so: a
// month is loaded once a month.
const oldBook = 35

func (p *Pages) home(w http.ResponseWriter, r *http.Request) error {
	editor := p.Host.Visitor(r).Role == access.Editor
	if !p.Book.Exists() {
		return p.show(w, r, "first", "Welcome", struct{ Editor bool }{editor})
	}
	h := homePage{Editor: editor, Doors: p.Book.Doors()}
	var err error
	if h.Shop, err = p.Book.Now(r.Context()); err != nil {
		return err
	}
	if h.Review, err = p.Book.Review(r.Context()); err != nil {
		return err
	}
	if h.Due, err = p.Book.Due(); err != nil {
		return err
	}
	if h.Held, h.HeldDays, err = p.Book.Held(r.Context()); err != nil {
		return err
	}
	if h.Shop.Chart != nil {
		if shown, err := p.Book.Behind(w, r, &page.Document{Title: "The shop now", Sections: []page.Section{{Blocks: []page.Block{h.Shop.Chart}}}}); shown || err != nil {
			return err
		}
		if h.Chart, err = p.block(r, h.Shop.Chart); err != nil {
			return err
		}
		h.ReviewDue = h.Review.Address == "" || h.Review.Month != h.Shop.Month || !h.Review.Current
	}
	if h.Ask, err = p.first(r, "ask", "No word yet", h.Shop.Ask); err != nil {
		return err
	}
	if h.Uncut, err = p.first(r, "uncut", "Not cut yet", h.Shop.Uncut); err != nil {
		return err
	}
	if h.Shop.AsOf.Known() {
		if old := int(cohort.DayOf(p.Host.Now()) - h.Shop.AsOf); old > oldBook {
			h.OldDays = old
		}
	}
	return p.show(w, r, "home", "The shop now", h)
}

// first is the beginning of a list of orders as a table; nothing for an empty list.
func (p *Pages) first(r *http.Request, id, caption string, list []shop.LookAt) (template.HTML, error) {
	if len(list) == 0 {
		return "", nil
	}
	t := brief.LookAt(id, caption, list, homeShown)
	t.Total = 0 // the page says itself how many there are
	return p.block(r, t)
}

func (p *Pages) block(r *http.Request, b page.Block) (template.HTML, error) {
	var out bytes.Buffer
	err := page.BlockHTML(&out, b, p.Book.Link(r))
	return template.HTML(out.String()), err
}

type listPage struct {
	Title, Lead string
	Table       template.HTML
	CSV         string // address of the same as CSV; "" for an empty list
}

// list shows one of the lists of the first page whole.
func (p *Pages) list(w http.ResponseWriter, r *http.Request) error {
	if !p.Book.Exists() {
		return topic.NewProblem(http.StatusConflict, "There is no book yet: load order sheets first.", nil)
	}
	s, err := p.Book.Now(r.Context())
	if err != nil {
		return err
	}
	var l listPage
	var t page.Table
	list, asCSV := strings.CutSuffix(r.PathValue("list"), ".csv")
	switch {
	case list == "ask":
		l.Title, t = "Orders to ask about", brief.LookAt("ask", "No word yet", s.Ask, 0)
		l.Lead = "Cut with two or more known faults, out for " + page.Counted(s.Telling, "day", "days") + " or more, and no word yet. By then half of the remakes have been told of: ring before the customer does."
	case list == "uncut":
		l.Title, t = "Orders not cut yet", brief.LookAt("uncut", "Not cut yet", s.Uncut, 0)
		l.Lead = "The orders that wait to be cut and are most likely to come back, as their forms stand now."
	case list == "remade" && s.Chart != nil:
		l.Title, t = "Made again: pairs of "+brief.MonthName(s.Month), brief.Remakes("remade", "Pairs of "+brief.MonthName(s.Month)+" made again", s.Accounts.Currency, s.Remade, 0)
		l.Lead = page.Thousands(len(s.Remade)) + " of " + page.Counted(s.Accounts.Now.Shipped, "pair", "pairs") + " so far."
	case list == "remade":
		l.Title = "Made again"
	default:
		return topic.NotFound("There is no such list of orders.")
	}
	if s.Chart == nil { // nothing was shipped
		l.Lead = strings.Join(s.Missing, " ")
	}
	if len(t.Rows) == 0 {
		return p.show(w, r, "list", l.Title, l)
	}
	if asCSV {
		w.Header().Set("Content-Type", "text/csv; charset=utf-8")
		w.Header().Set("Content-Disposition", `attachment; filename="`+list+`.csv"`)
		return page.CSV(w, &t)
	}
	l.CSV = "/orders/" + list + ".csv"
	if l.Table, err = p.block(r, t); err != nil {
		return err
	}
	return p.show(w, r, "list", l.Title, l)
}
