package service

import (
	"context"
	"errors"

	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/rules"
	"lastroom/analysis/sketch"
	"lastroom/notebooks"
	"lastroom/notebooks/service/finding"
	"lastroom/reports/brief"
	"lastroom/reports/page"
)

// A Workshop is the book with what can be asked of it besides notebooks. The
// command line gives it; here is only what the pages need.
type Workshop interface {
	notebooks.Book
	// Exists reports whether there is a book yet.
	Exists() bool
	// State says which state of the book is the newest; it is asked for often.
	State(ctx context.Context) (notebooks.Facts, error)
	// Now is the shop as the book tells it, for the first page.
	Now(ctx context.Context) (*brief.Shop, error)
	// Order shows one order: its facts, its forms with numbers and faults, its
	// history and its outcomes. ErrUnknown where the book has none of that id.
	Order(ctx context.Context, id string) (*page.Document, error)
	// Orders lists orders, one a row, each opening its order. hash names the state
	// of the book they were read from.
	Orders(ctx context.Context, ids []string) (t page.Table, hash string, err error)
	// Forms lists forms, one a row, in the same way.
	Forms(ctx context.Context, ids []string) (t page.Table, hash string, err error)
	// Find says which orders, forms and customers a number means, as a person
	// remembers it; OrdersOf lists the orders of a customer, oldest first.
	Find(ctx context.Context, text string) (finding.Found, error)
	OrdersOf(ctx context.Context, customer string) (page.Table, error)
	// OrderOfForm is the order a form belongs to, or ErrUnknown.
	OrderOfForm(ctx context.Context, formID string) (string, error)
	// Load reads sheets into the book, as the command line does, and makes the
	// book where there is none.
	Load(ctx context.Context, in Incoming, say Say) (*LoadResult, error)
	// Sketch looks at the spreadsheets in a folder, which nobody described, with
	// what a person chose about them. Nothing is loaded.
	Sketch(ctx context.Context, dir string, answers sketch.Answers) (*sketch.Sketch, error)
	// Demo makes the invented workshop's book in the book's place.
	Demo(ctx context.Context) error
	// Exercise picks an order whose outcome is known, for practice: its id, and
	// what was known of it when its first form came, without faults or outcome. Or
	// ErrNoExercise.
	Exercise(ctx context.Context) (id string, d *page.Document, err error)
	// Length reads a length as typed in, in mm; unit is taken where it names none.
	Length(text string, unit form.Unit) (float64, error)
	// Measurers compares those who measure; Repeats is the study of their sessions.
	Measurers(ctx context.Context) (measurers.Comparison, error)
	Repeats(ctx context.Context) (repeatability.Study, error)
	// Views are the views of the book that a person's SQL may ask.
	Views() []View
	// RuleList are the rules in force or proposed; RuleColumns what their conditions
	// may be about.
	RuleList() []rules.Rule
	RuleColumns(ctx context.Context) ([]string, error)
	// TryRule scores a rule, or a condition as if it were one, with the numbers of its
	// line; success 0 is the share of call-backs that mended by the book. An error says
	// what is wrong with the condition.
	TryRule(ctx context.Context, r rules.Rule, success float64) (*page.Document, []page.Value, error)
	// ChangeRules writes the rules file anew as change says of its text, all or nothing.
	ChangeRules(change func(text []byte) ([]byte, error)) error
}

// ErrUnknown is the error of an id the book does not know.
var ErrUnknown = errors.New("the book does not know it")

// ErrNoExercise is the error of a book in which nothing is told to its end.
var ErrNoExercise = errors.New("the book has no mature order with a keyed form to practise on yet")

// A View is a view of the book with what it is and its columns, in words.
type View struct {
	Name, About string
	Columns     []Column
}

// A Column is one column of a view, or several that are told together.
type Column struct{ Names, About string }

// Incoming are sheets to be loaded.
type Incoming struct {
	Dir     string // the folder they are in
	Mapping string // how they are laid out; "" for order sheets, or a mapping file among them
	Try     bool   // read and report, and change nothing
}

// Say is told how far work is: done of total, total 0 where that is not known.
type Say func(step string, done, total int)

// A LoadResult is what a load did, ready to be shown.
type LoadResult struct {
	Report  *page.Document
	KeptOut int
	Nothing bool   // no row is in the book
	Rejects []byte // the rows kept out, as CSV; empty where there are none
}
