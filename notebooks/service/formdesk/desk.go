// Package formdesk holds the pages of the form desk: a form is typed in and judged
// as it is typed; what is kept waits in a list until its answer came and leather is
// cut.
//
//  1. fieldsOf reads the page's form into a [Form], word for word
//  2. [Desk.Check] judges it, [Desk.Keep] keeps it; both name what can't be read by
//     its field
//  3. a [Kept] order has its forms, what was asked and what the mended form changed
//     ([compare])
//
// Who keeps says which version of the order was on the page. Where another person
// has kept something meanwhile, both are shown and nothing is lost: what was typed
// stands in the page's form still.
package formdesk

import (
	"context"
	"errors"
	"html/template"
	"time"

	"lastroom/analysis/form"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/topic"
	"lastroom/reports/page"
)

// A Form is a form as typed in, word for word.
type Form struct {
	ID, OrderID    string // as the shop numbers them; may be empty until it is kept
	Customer       string
	Received       string // ISO day
	Measurer       string
	Shaft          string
	ShaftUnit      form.Unit
	Order          map[string]string // answers to desk.Questions, by column; "" is not known
	Marks          map[string]string // of form.Marks, by column: yes, no, "" is not known
	Irregularities string
	Unit           form.Unit
	Numbers        []Number
}

// A Number is one number of the form, as typed in.
type Number struct {
	form.Place
	Value string
}

// An Answer is what the desk says of a form.
type Answer struct {
	Verdict string // cut, ask, measure again, or that something can't be read
	Wrong   bool   // something can't be read; Says has what, by field
	Doc     *page.Document
	Letter  func(language string) *page.Document // nil where there is nothing to ask
	Says    map[string]string                    // doubts and what can't be read, in words, by field
	Notes   []string                             // what the book has of the order, and differs or was filled in
	Pairs   []Pair                               // earlier orders of the customer
}

// A Pair is an earlier order of the customer.
type Pair struct{ Order, Words string }

// A Kept order is what the desk keeps of one.
type Kept struct {
	Order    string
	Customer string
	Version  int        // counts changes
	Forms    []KeptForm // in the order in which they came; never empty
	Calls    []Call
	Closed   string // "" while it is open; cut, withdrawn
	ClosedOn string
	Waits    bool   // not all of it is in the book yet
	Refused  string // why the book did not take it
	Days     int    // since the last form came
}

// Last is the form that came last.
func (k *Kept) Last() KeptForm { return k.Forms[len(k.Forms)-1] }

// A KeptForm is a form with what the desk said of it when it was kept.
type KeptForm struct {
	Form
	No      int
	By      string
	At      time.Time
	Verdict string
	Held    bool
	Reasons []string
	Asked   []string // what the letter asks, in a few words each
}

// A Call is one time that the customer was asked.
type Call struct{ Form, On, How, By, Answered string }

// A Waiting form came on sheets and is held: nothing of its order was typed in here.
type Waiting struct {
	Order, Customer, Form string
	Verdict               string
	Asks                  []string // what the letter would ask, in a few words each
	Days                  int      // since it came
	Called                bool     // the customer was asked, and no answer is in
	CalledOn              string   // "": the day is not known
}

// What can be done with a kept order, besides typing a form in for it.
const (
	ByLetter    = "letter"
	ByTelephone = "telephone"
	IsCut       = "cut"
	IsWithdrawn = "withdrawn"
)

var (
	// ErrChanged is the error of an order that somebody else has changed meanwhile.
	ErrChanged = errors.New("somebody else has changed it meanwhile")
	// ErrNone is the error of an order of which nothing is kept.
	ErrNone = errors.New("the desk keeps nothing of that order")
)

// Wrong is the error of a form with fields that can't be kept, in words by field.
type Wrong map[string]string

func (w Wrong) Error() string { return "something can't be kept as it is typed" }

// Next is what a form that is typed in begins with: the numbers of the next order and of
// its form, "" where they can't be told, and the unit that the last forms are written in.
type Next struct {
	Order, Form string
	Unit        form.Unit
}

// A Desk judges forms that are typed in, and keeps them.
type Desk interface {
	// Heights are the heights above the floor at which the shop takes leg
	// girths, lowest first.
	Heights(ctx context.Context) ([]form.Height, error)
	// Next proposes what the next form begins with.
	Next(ctx context.Context) (Next, error)
	// Check judges one form. Nothing of it is kept. It is asked at each key, then
	// without the page that says why, and the letter.
	Check(ctx context.Context, f Form, why bool) (*Answer, error)
	// Keep keeps a form that was typed in for an order seen at a version, 0 for none.
	// It is durable when Keep has answered. Wrong, or ErrChanged with the order as it
	// is now.
	Keep(ctx context.Context, f Form, by string, seen int) (*Kept, error)
	// Open lists the orders that the desk is not done with, the longest waiting first.
	Open(ctx context.Context) ([]*Kept, error)
	// Waiting lists the held forms that came on sheets, the longest waiting first.
	Waiting(ctx context.Context) ([]Waiting, error)
	// Kept gives what is kept of an order, or ErrNone.
	Kept(ctx context.Context, order string) (*Kept, error)
	// Do notes that the customer was asked about the last form, or that the desk is
	// done with the order; errors as in Keep.
	Do(ctx context.Context, order, what, by string, seen int) (*Kept, error)
	// Letter is the letter about the last form in a language, nil where it is not held.
	Letter(ctx context.Context, order, language string) (*page.Document, error)
}

// A Shop is what the pages need of the server.
type Shop interface {
	topic.Book
	// Inner is Whole for a page with a main part of its own.
	Inner(d *page.Document) (template.HTML, error)
}

// Pages are the pages of the form desk.
type Pages struct {
	Host topic.Host
	Shop Shop
	Desk Desk
}

// Routes is their table.
func (p *Pages) Routes() []topic.Route {
	return []topic.Route{
		{Pattern: "GET /desk", Role: access.Reader, Handler: p.empty},
		{Pattern: "POST /desk", Role: access.Reader, Handler: p.check},
		{Pattern: "POST /desk/doubts", Role: access.Reader, Handler: p.doubts},
		{Pattern: "POST /desk/letter", Role: access.Reader, Handler: p.unkeptLetter},
		{Pattern: "POST /desk/keep", Role: access.Editor, Handler: p.keep},
		{Pattern: "GET /desk/open", Role: access.Reader, Handler: p.open},
		{Pattern: "GET /desk/kept/{order}", Role: access.Reader, Handler: p.kept},
		{Pattern: "GET /desk/kept/{order}/letter", Role: access.Reader, Handler: p.letter},
		{Pattern: "GET /desk/kept/{order}/again", Role: access.Editor, Handler: p.again},
		{Pattern: "GET /desk/kept/{order}/mend", Role: access.Editor, Handler: p.mend},
		{Pattern: "POST /desk/kept/{order}", Role: access.Editor, Handler: p.do},
	}
}
