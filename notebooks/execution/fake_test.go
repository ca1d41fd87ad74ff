package execution

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/measurers"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

// fakeBook answers queries from a table of texts.
type fakeBook struct {
	facts   notebooks.Facts
	answers map[string]frame.Frame // by a word the query holds
	queries atomic.Int32
	slow    time.Duration
}

func (b *fakeBook) At(_ context.Context, asOf cohort.Day) (notebooks.Source, error) {
	f := b.facts
	if asOf.Known() {
		f.AsOf = asOf
	}
	return &fakeSource{book: b, facts: f}, nil
}

type fakeSource struct {
	book  *fakeBook
	facts notebooks.Facts
}

func (s *fakeSource) Facts() notebooks.Facts { return s.facts }
func (s *fakeSource) Close() error           { return nil }

func (s *fakeSource) Query(ctx context.Context, q frame.Query) (frame.Frame, error) {
	s.book.queries.Add(1)
	time.Sleep(s.book.slow) // as a query that no context stops
	for word, rows := range s.book.answers {
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
	return rows([]frame.Column{{Name: "sql", Kind: frame.Text}}, []any{q.SQL}), nil
}

func (s *fakeSource) Cohort(context.Context) (*cohort.Cohort, error) { return &cohort.Cohort{}, nil }

func (s *fakeSource) HoldDesk(context.Context) ([]rules.DeskHeld, error) { return nil, nil }

func (s *fakeSource) HoldAlso(context.Context, rules.Rule) (rules.Applied, error) {
	return rules.Applied{}, nil
}

func (s *fakeSource) FirstFormsHeld(context.Context, rules.Rule, cohort.Day, cohort.Day) ([]string, error) {
	return nil, nil
}

func (s *fakeSource) HoldFirstForms(context.Context) ([]rules.Applied, error) {
	return nil, nil
}

func (s *fakeSource) CallBacks(context.Context, *cohort.Cohort) ([]rules.Call, error) {
	return nil, nil
}
func (s *fakeSource) Rules() []rules.Rule { return nil }
func (s *fakeSource) Risks(context.Context) (*risk.Learnt, error) {
	return nil, errors.New("no orders")
}
func (s *fakeSource) Cases(context.Context, bool) ([]risk.Order, error)       { return nil, nil }
func (s *fakeSource) Spreads(context.Context) ([]human.Spread, error)         { return nil, nil }
func (s *fakeSource) RangeMonths(context.Context) ([]human.RangeMonth, error) { return nil, nil }
func (s *fakeSource) Costs(context.Context) (rules.Costs, error)              { return rules.Costs{}, nil }
func (s *fakeSource) Repeats(context.Context) ([]measurers.Repeat, error)     { return nil, nil }

func (s *fakeSource) Changes(context.Context, notebooks.Facts) (cohort.Changes, error) {
	return cohort.Changes{Loads: 1, LateOutcomes: cohort.Affected{Orders: 2, Some: []string{"o-1", "o-2"}}}, nil
}

func day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// fakeCatalogue has one analysis, whose risk ratio depends on its keys.
var fakeCatalogue = notebooks.Catalogue{
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
				Frame:    rows([]frame.Column{{Name: "rate", Kind: frame.Real}, {Name: "who", Kind: frame.Text}}, []any{0.3, "O'Neil"}, []any{nil, nil}),
				Cautions: []string{"A statistic is no diagnosis."},
			}, nil
		},
	},
}

func fake() *fakeBook {
	return &fakeBook{
		facts: notebooks.Facts{AsOf: day("2026-10-30"), Hash: "abc", Load: 3},
		answers: map[string]frame.Frame{
			"by_channel": rows([]frame.Column{{Name: "channel", Kind: frame.Text}, {Name: "remade", Kind: frame.Integer}, {Name: "shipped", Kind: frame.Integer}, {Name: "ids", Kind: frame.Text}},
				[]any{"shop", int64(4), int64(80), "o-3, o-4"}, []any{"home", int64(30), int64(100), "o-1 o-2"}, []any{nil, int64(1), int64(9), nil}),
			"one_row": rows([]frame.Column{{Name: "orders", Kind: frame.Integer}, {Name: "day", Kind: frame.Day}}, []any{int64(1340), day("2026-09-01")}),
		},
	}
}

// rows is a frame of the given rows.
func rows(columns []frame.Column, data ...[]any) frame.Frame {
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
