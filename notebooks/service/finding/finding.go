// Package finding holds the pages behind the box that finds an order, a form or a
// customer by a number as it is remembered, and the page of a customer.
package finding

import (
	"context"
	"embed"
	"html/template"
	"net/http"
	"strings"

	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
)

//go:embed templates/*.tmpl
var templateFiles embed.FS

var templates = template.Must(template.New("").ParseFS(templateFiles, "templates/*.tmpl"))

// The kinds of what is found.
const (
	Order    = "order"
	Customer = "customer"
	AtDesk   = "desk" // an order that is kept at the desk and not in the book yet
)

// A Match is one id that a text may mean.
type Match struct {
	Kind, ID string
	Words    string // of the order, in a few words; may be empty
}

// Found is what a text may mean. Where nothing is named so, Near has ids that are
// spelt almost so.
type Found struct{ Matches, Near []Match }

// A Shop is what finding asks of the workshop and the server.
type Shop interface {
	topic.Book
	Find(ctx context.Context, text string) (Found, error)
	// OrdersOf lists the orders of a customer, oldest first; none where the book does
	// not know the customer.
	OrdersOf(ctx context.Context, customer string) (page.Table, error)
}

// Pages are the pages of finding.
type Pages struct {
	Host topic.Host
	Shop Shop
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "POST /find", Role: access.Reader, Handler: p.find},
		{Pattern: "GET /customer/{customer}", Role: access.Reader, Handler: p.customer},
	}
}

type foundPage struct {
	Text          string
	Matches, Near []link
}

type link struct{ Kind, ID, Words, Address string }

// find opens what a number means, or lists what it may mean. It is a POST so that no
// id stands in an address; it changes nothing.
func (p *Pages) find(w http.ResponseWriter, r *http.Request) error {
	text := strings.Join(strings.Fields(r.PostForm.Get("order")), " ")
	switch {
	case text == "":
		return topic.BadRequest("Type in the number of an order, a form or a customer.")
	case len(text) > 200:
		return topic.BadRequest("That is too long for a number: type in that of one order, one form or one customer.")
	}
	found, err := p.Shop.Find(r.Context(), text)
	if err != nil {
		return err
	}
	d := foundPage{text, p.links(found.Matches), p.links(found.Near)}
	if len(d.Matches) == 1 {
		http.Redirect(w, r, d.Matches[0].Address, http.StatusSeeOther)
		return nil
	}
	status, title := http.StatusOK, "Which one?"
	if len(d.Matches) == 0 {
		status, title = http.StatusNotFound, "Nothing of that number"
	}
	return topic.Show(p.Host, w, r, topic.View{Status: status, Title: title, Templates: templates, Name: "found", Data: d})
}

func (p *Pages) links(list []Match) (out []link) {
	for _, m := range list {
		l := link{Kind: m.Kind, ID: m.ID, Words: m.Words, Address: "/" + m.Kind + "/" + p.Shop.Word(m.Kind, m.ID)}
		if m.Kind == AtDesk {
			l.Kind, l.Address = "order kept at the desk", "/desk/kept/"+p.Shop.Word(Order, m.ID)
		}
		out = append(out, l)
	}
	return out
}

// customer lists the orders of a customer.
func (p *Pages) customer(w http.ResponseWriter, r *http.Request) error {
	id, ok := p.Shop.ID(Customer, r.PathValue("customer"))
	if !ok {
		return topic.NotFound("That address opens no customer of this book.")
	}
	t, err := p.Shop.OrdersOf(r.Context(), id)
	if err != nil {
		return err
	}
	if t.Total == 0 {
		return topic.NotFound("The book does not know that customer (any more).")
	}
	body, err := p.Shop.Whole(r, &page.Document{Title: "Customer " + id, Lead: page.Counted(t.Total, "order", "orders") + ", oldest first.", Sections: []page.Section{{Blocks: []page.Block{t}}}})
	if err == nil {
		p.Host.Show(w, r, http.StatusOK, "Customer "+id, body)
	}
	return err
}
