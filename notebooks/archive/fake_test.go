package archive

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
)

// fakeBook answers queries by a word they hold.
type fakeBook struct {
	facts   notebooks.Facts
	answers map[string]frame.Frame
}

func (b *fakeBook) At(context.Context, cohort.Day) (notebooks.Source, error) {
	return fakeSource{book: b}, nil
}

type fakeSource struct {
	notebooks.Source
	book *fakeBook
}

func (s fakeSource) Facts() notebooks.Facts { return s.book.facts }
func (s fakeSource) Close() error           { return nil }

func (s fakeSource) Query(_ context.Context, q frame.Query) (frame.Frame, error) {
	for word, rows := range s.book.answers {
		if strings.Contains(q.SQL, word) {
			return rows, nil
		}
	}
	return frame.Frame{}, &frame.Error{Message: "no such table"}
}

var fakeCatalogue = notebooks.Catalogue{"marks": {
	Keys: []notebooks.Key{{Name: "fault", About: "id of the fault"}},
	Run: func(context.Context, notebooks.Input) (*notebooks.Output, error) {
		return &notebooks.Output{
			Parts:  []notebooks.Shown{{Name: "words", Blocks: []page.Block{page.Prose{"Marks."}}}},
			Values: []page.Value{{Name: "rate", E: stats.Wilson(30, 100, 0.95)}},
		}, nil
	},
}}

func fake() *fakeBook {
	return &fakeBook{notebooks.Facts{AsOf: day("2026-10-30"), Hash: "abc", Load: 3}, map[string]frame.Frame{
		"by_channel": rows([]frame.Column{{Name: "channel", Kind: frame.Text}, {Name: "remade", Kind: frame.Integer}, {Name: "shipped", Kind: frame.Integer}, {Name: "ids", Kind: frame.Text}},
			[]any{"shop", int64(4), int64(80), "o-3, o-4"}, []any{"home", int64(30), int64(100), "o-1 o-2"}),
		"one_row": rows([]frame.Column{{Name: "orders", Kind: frame.Integer}}, []any{int64(1340)}),
	}}
}

func day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
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

const small = `---
title: Channels
for: the people at the desk
parameters:
  - name: month
    type: month
    default: latest
  - name: least
    type: integer
    from: 1
    until: 50
    default: 20
  - name: fault
    type: choice
    of: faults
    default: tape-marks-missing
---
What [2026-09](value:month) brought: [8 in 100](value:marks.rate "per 100") were remade.

# By channel

[Missing marks go with remakes](claim:marks.rate "above 0.1"), and
[nobody ships](claim:all.orders "below 10").

` + "```sql name=channels share=remade/shipped orders=ids caption=\"By channel\"\nselect by_channel, $month, '$not', -- $nor\n1\n```\n\n" +
	"```sql name=all\nselect one_row\n```\n\n" +
	"```finding name=marks of=marks fault=$fault\n```\n" +
	"Home: [30](value:channels.home.remade).\n"

func runOf(t *testing.T, b *fakeBook) *execution.Run {
	t.Helper()
	n, err := notebooks.Parse("channels", []byte(small), fakeCatalogue)
	require.NoError(t, err)
	r := execution.Runner{Book: b, Catalogue: fakeCatalogue, Version: "v0"}
	run, err := r.Run(t.Context(), n, execution.Options{})
	require.NoError(t, err)
	return run
}
