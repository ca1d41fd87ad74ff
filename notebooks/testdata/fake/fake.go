// Package fake is a book and an analysis made up for the tests of notebooks. Under
// testdata it is no part of the program.
package fake

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/instructions"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/analysis/signs"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

// A Book answers queries from a table of texts.
type Book struct {
	Facts   notebooks.Facts
	Answers map[string]frame.Frame // by a word the query holds
	Queries atomic.Int32
	Slow    time.Duration
}

func (b *Book) At(_ context.Context, asOf cohort.Day) (notebooks.Source, error) {
	f := b.Facts
	if asOf.Known() {
		f.AsOf = asOf
	}
	f.Month = notebooks.MonthToTell(f.AsOf, nil)
	return &source{book: b, facts: f}, nil
}

type source struct {
	book  *Book
	facts notebooks.Facts
}

func (s *source) Facts() notebooks.Facts { return s.facts }
func (s *source) Close() error           { return nil }

func (s *source) Query(ctx context.Context, q frame.Query) (frame.Frame, error) {
	s.book.Queries.Add(1)
	time.Sleep(s.book.Slow) // as a query that no context stops
	for word, rows := range s.book.Answers {
		if strings.Contains(q.SQL, word) {
			return rows, nil
		}
	}
	if strings.Contains(q.SQL, "broken") {
		return frame.Frame{}, &frame.Error{Message: "there is no column \"broken\"", Line: 2}
	}
	if strings.Contains(q.SQL, "twice") {
		return frame.NewBuilder([]frame.Column{{Name: "a", Kind: frame.Integer}, {Name: "a", Kind: frame.Integer}}).Frame()
	}
	return Rows([]frame.Column{{Name: "sql", Kind: frame.Text}}, []any{q.SQL}), nil
}

func (s *source) Cohort(context.Context) (*cohort.Cohort, error) { return &cohort.Cohort{}, nil }

func (s *source) HoldDesk(context.Context, float64) ([]rules.DeskHeld, error) { return nil, nil }

func (s *source) HoldAlso(context.Context, rules.Rule) (rules.Applied, error) {
	return rules.Applied{}, nil
}

func (s *source) FirstFormsHeld(context.Context, rules.Rule, cohort.Day, cohort.Day) ([]string, error) {
	return nil, nil
}

func (s *source) HoldFirstForms(context.Context) ([]rules.Applied, error) {
	return nil, nil
}

func (s *source) CallBacks(context.Context, *cohort.Cohort) ([]rules.Call, error) {
	return nil, nil
}
func (s *source) Rules() []rules.Rule { return nil }
func (s *source) Fits() *risk.Fits    { return nil }
func (s *source) Risks(context.Context) (*risk.Learnt, error) {
	return nil, errors.New("no orders")
}
func (s *source) Cases(context.Context, bool) ([]risk.Order, error)         { return nil, nil }
func (s *source) CallPrice(context.Context) (risk.Price, error)             { return risk.Price{}, nil }
func (s *source) Spreads(context.Context) ([]human.Spread, error)           { return nil, nil }
func (s *source) RangeMonths(context.Context) ([]human.RangeMonth, error)   { return nil, nil }
func (s *source) Trained(context.Context) (map[string]cohort.Day, error)    { return nil, nil }
func (s *source) KeptTwice(context.Context) ([]repeatability.Repeat, error) { return nil, nil }
func (s *source) Instructions(context.Context) ([]instructions.Cell, error) { return nil, nil }
func (s *source) FormsOfMeasurers(context.Context) ([]signs.Form, error)    { return nil, nil }
func (s *source) Costs(context.Context) (rules.Costs, error)                { return rules.Costs{}, nil }
func (s *source) Repeats(context.Context) ([]repeatability.Repeat, error)   { return nil, nil }
func (s *source) Reports(context.Context, cohort.Day, cohort.Day) ([]shop.Report, error) {
	return nil, nil
}

func (s *source) Changes(context.Context, notebooks.Facts) (cohort.Changes, error) {
	return cohort.Changes{Loads: 1, LateOutcomes: cohort.Affected{Orders: 2, Some: []string{"o-1", "o-2"}}}, nil
}

// Day reads a day.
func Day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// Catalogue has one analysis, whose risk ratio depends on its keys.
var Catalogue = notebooks.Catalogue{
	"marks": {
		About: "a made-up finding",
		Keys:  []notebooks.Key{{Name: "fault", About: "id of the fault"}},
		Parts: []string{"table", "words"},
		Run: func(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
			if in.Keys["fault"] == "sides-copied" {
				return nil, fmt.Errorf("no order has it")
			}
			e := stats.Wilson(30, 100, 0.95)
			return &notebooks.Output{
				Parts: []notebooks.Shown{
					{Name: "table", Blocks: []page.Block{page.Table{ID: "marks", Caption: "Marks", Columns: []page.Column{{Key: "rate", Title: "rate", Numeric: true}}, Rows: [][]page.Cell{{page.Percent(e)}}, Total: 1}}},
					{Name: "words", Blocks: []page.Block{page.Prose{"Fault " + in.Keys["fault"]}}},
				},
				Values:   []page.Value{{Name: "rate", E: e}, {Name: "ratio", E: stats.Missing(3, "Katz", "under 5 remakes in either arm")}},
				Frame:    Rows([]frame.Column{{Name: "rate", Kind: frame.Real}, {Name: "who", Kind: frame.Text}}, []any{0.3, "O'Neil"}, []any{nil, nil}),
				Cautions: []string{"A statistic is no diagnosis."},
			}, nil
		},
	},
}

// New is a book whose answers a test may change.
func New() *Book {
	return &Book{
		Facts: notebooks.Facts{AsOf: Day("2026-10-30"), Hash: "abc", Load: 3},
		Answers: map[string]frame.Frame{
			"by_channel": Rows([]frame.Column{{Name: "channel", Kind: frame.Text}, {Name: "remade", Kind: frame.Integer}, {Name: "shipped", Kind: frame.Integer}, {Name: "ids", Kind: frame.Text}},
				[]any{"shop", int64(4), int64(80), "o-3, o-4"}, []any{"home", int64(30), int64(100), "o-1 o-2"}, []any{nil, int64(1), int64(9), nil}),
			"one_row": Rows([]frame.Column{{Name: "orders", Kind: frame.Integer}, {Name: "day", Kind: frame.Day}}, []any{int64(1340), Day("2026-09-01")}),
		},
	}
}

// Rows is a frame of the given rows.
func Rows(columns []frame.Column, data ...[]any) frame.Frame {
	b := frame.NewBuilder(columns)
	for _, row := range data {
		if err := b.Add(row); err != nil {
			panic(err)
		}
	}
	f, err := b.Frame()
	if err != nil {
		panic(err)
	}
	return f
}

// Channels is a notebook that asks for a value, makes two claims and has three cells.
//
//go:embed channels.md
var Channels string
