package formdesk

import (
	"errors"
	"net/http"
	"slices"

	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
)

// keptOf is the order that an address names.
func (p *Pages) keptOf(r *http.Request) (*Kept, error) {
	id, ok := p.Shop.ID("order", r.PathValue("order"))
	if !ok {
		return nil, topic.NotFound("That address opens no order of this book.")
	}
	k, err := p.Desk.Kept(r.Context(), id)
	if errors.Is(err, ErrNone) {
		err = topic.NotFound("The desk keeps nothing of that order (any more).")
	}
	return k, err
}

// A line is an open order in the list.
type line struct {
	Order, Customer, Form, Address string
	Days                           int
	Verdict                        string
	Asks                           []string
	Asked                          string // when and how, in words
	Refused                        string
}

type openPage struct {
	Editor     bool
	Held, Free []line
	Waits      int
	Sheets     int // of the held ones, that came on sheets
}

// open lists what the desk is not done with.
func (p *Pages) open(w http.ResponseWriter, r *http.Request) error {
	list, err := p.Desk.Open(r.Context())
	if err != nil {
		return err
	}
	o := openPage{Editor: p.Host.Visitor(r).Role >= access.Editor}
	waiting, err := p.Desk.Waiting(r.Context())
	if err != nil {
		return err
	}
	o.Sheets = len(waiting)
	for _, f := range waiting {
		l := line{Order: f.Order, Customer: f.Customer, Form: f.Form, Address: "/order/" + p.Shop.Word("order", f.Order), Days: f.Days, Verdict: f.Verdict, Asks: f.Asks}
		switch {
		case f.CalledOn != "":
			l.Asked = "on " + f.CalledOn
		case f.Called:
			l.Asked = "yes"
		}
		o.Held = append(o.Held, l)
	}
	for _, k := range list {
		last := k.Last()
		l := line{k.Order, k.Customer, last.ID, "/desk/kept/" + p.Shop.Word("order", k.Order), k.Days, last.Verdict, last.Asked, asked(k), k.Refused}
		if k.Waits {
			o.Waits++
		}
		switch {
		case k.Closed != "":
		case k.Last().Held:
			o.Held = append(o.Held, l)
		default:
			o.Free = append(o.Free, l)
		}
	}
	slices.SortStableFunc(o.Held, func(a, b line) int { return b.Days - a.Days })
	return p.show(w, r, http.StatusOK, "open", "Open forms", o)
}

// asked says when the customer was last asked about the last form.
func asked(k *Kept) string {
	for i := len(k.Calls) - 1; i >= 0; i-- {
		if c := k.Calls[i]; c.Form == k.Last().ID && c.Answered == "" {
			return "by " + c.How + " on " + c.On
		}
	}
	return ""
}

type keptPage struct {
	*Kept
	Address  string // of this page
	Book     string // of the order in the book
	Editor   bool
	Asked    string
	Changes  []change // of the last form against the one before
	Before   string   // id of that
	Problem  string
	Numbered []keptForm
}

type keptForm struct {
	KeptForm
	Columns []string
	Rows    []row
}

// kept shows what is kept of an order.
func (p *Pages) kept(w http.ResponseWriter, r *http.Request) error {
	k, err := p.keptOf(r)
	if err != nil {
		return err
	}
	return p.showKept(w, r, http.StatusOK, k, "")
}

func (p *Pages) showKept(w http.ResponseWriter, r *http.Request, status int, k *Kept, problem string) error {
	word := p.Shop.Word("order", k.Order)
	d := keptPage{Kept: k, Address: "/desk/kept/" + word, Book: "/order/" + word, Editor: p.Host.Visitor(r).Role >= access.Editor, Asked: asked(k), Problem: problem}
	if n := len(k.Forms); n > 1 {
		d.Before, d.Changes = k.Forms[n-2].ID, compare(k.Forms[n-2].Form, k.Forms[n-1].Form)
	}
	heights, err := p.Desk.Heights(r.Context())
	if err != nil {
		return err
	}
	for i := len(k.Forms) - 1; i >= 0; i-- {
		f, _ := fieldsOf(valuesOf(k.Forms[i].Form), heights)
		columns, rows := written(f.Rows)
		d.Numbered = append(d.Numbered, keptForm{k.Forms[i], columns, rows})
	}
	return p.show(w, r, status, "kept", "Order "+k.Order+" at the desk", d)
}

// written are the rows and columns that have a number.
func written(rows []row) (columns []string, out []row) {
	has := map[string]bool{}
	for _, r := range rows {
		for _, c := range r.Cells {
			has[c.Column] = has[c.Column] || c.Value != ""
		}
	}
	for _, r := range rows {
		var line row
		full := false
		for _, c := range r.Cells {
			if has[c.Column] {
				line.Cells, full = append(line.Cells, c), full || c.Value != ""
			}
		}
		if full {
			line.Label, columns = r.Label, columns[:0]
			for _, c := range line.Cells {
				columns = append(columns, c.Column)
			}
			out = append(out, line)
		}
	}
	return columns, out
}

// letter shows the letter about the last form, for print.
func (p *Pages) letter(w http.ResponseWriter, r *http.Request) error {
	k, err := p.keptOf(r)
	if err != nil {
		return err
	}
	language := p.letterLanguage(r)
	doc, err := p.Desk.Letter(r.Context(), k.Order, language)
	if err != nil {
		return err
	}
	if doc == nil {
		return topic.NewProblem(http.StatusConflict, "Nothing has to be asked: there is no letter to write.", nil)
	}
	address := "/desk/kept/" + p.Shop.Word("order", k.Order)
	return p.showLetter(w, r, doc, letterPage{Back: address, BackTo: "Back to the order", Address: address + "/letter", Language: language})
}

// do notes what was done about a kept order.
func (p *Pages) do(w http.ResponseWriter, r *http.Request) error {
	k, err := p.keptOf(r)
	if err != nil {
		return err
	}
	t, _, err := p.typed(r, r.PostForm)
	if err != nil {
		return err
	}
	what := r.PostForm.Get("do")
	switch what {
	case ByLetter, ByTelephone, IsCut, IsWithdrawn:
	default:
		return topic.BadRequest("Say what was done: asked by letter or by telephone, cut, or withdrawn.")
	}
	if err := p.Host.Audit(r, "note at the desk: "+what, "", "begun"); err != nil {
		return err
	}
	k, err = p.Desk.Do(r.Context(), k.Order, what, p.who(r), t.Seen)
	if errors.Is(err, ErrChanged) {
		return p.showKept(w, r, http.StatusConflict, k, "Somebody else has changed this order meanwhile. Below is how it stands now; look at it and say again what was done.")
	}
	if err != nil {
		return err
	}
	at := "/desk/kept/" + p.Shop.Word("order", k.Order)
	if what == ByLetter {
		at += "/letter"
	}
	http.Redirect(w, r, at, http.StatusSeeOther)
	return nil
}
