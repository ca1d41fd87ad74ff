package frame

import (
	"math"
	"testing"

	"github.com/go-gota/gota/series"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
)

var columns = []Column{{"id", Text}, {"n", Integer}, {"x", Real}, {"yes", Boolean}, {"day", Day}}

func sample(t *testing.T) Frame {
	t.Helper()
	b := NewBuilder(columns)
	for _, row := range [][]any{
		{"007", int64(1 << 60), 0.1, true, cohort.Day(20000)},
		{"NaN", -3, math.Inf(1), false, nil},
		{nil, nil, math.NaN(), nil, cohort.Day(-1)},
		{"", 0, 1e300, true, cohort.Day(0)},
	} {
		require.NoError(t, b.Add(row))
	}
	f, err := b.Frame()
	require.NoError(t, err)
	return f
}

// Nothing is guessed: "007" and "NaN" stay texts, a day stays a day, and what is
// not known is missing in gota's own sense.
func TestCellsStayWhatTheyAre(t *testing.T) {
	f := sample(t)
	require.Equal(t, []series.Type{series.String, series.Int, series.Float, series.Bool, series.String}, f.Types())
	for i, want := range [][]any{
		{"007", 1 << 60, 0.1, true, cohort.Day(20000)},
		{"NaN", -3, nil, false, nil},
		{nil, nil, nil, nil, cohort.Day(-1)},
		{"", 0, 1e300, true, cohort.Day(0)},
	} {
		for j := range want {
			require.Equal(t, want[j], f.Value(i, j), "row %d, %s", i, columns[j].Name)
			require.Equal(t, want[j] == nil, f.Elem(i, j).IsNA())
		}
	}
}

func TestSortedByAllColumnsMissingLast(t *testing.T) {
	b := NewBuilder([]Column{{"n", Integer}, {"day", Day}})
	for _, row := range [][]any{{nil, cohort.Day(3)}, {2, nil}, {2, cohort.Day(9)}, {10, cohort.Day(1)}, {2, cohort.Day(-9)}} {
		require.NoError(t, b.Add(row))
	}
	f, err := b.Frame()
	require.NoError(t, err)
	f, err = f.Sorted()
	require.NoError(t, err)
	var got [][]any
	for i := range f.Nrow() {
		got = append(got, []any{f.Value(i, 0), f.Value(i, 1)})
	}
	require.Equal(t, [][]any{{2, cohort.Day(-9)}, {2, cohort.Day(9)}, {2, nil}, {10, cohort.Day(1)}, {nil, cohort.Day(3)}}, got)
}

func TestWithPutsColumnsBeside(t *testing.T) {
	f := sample(t)
	b := NewBuilder([]Column{{"share", Real}})
	for range f.Nrow() {
		require.NoError(t, b.Add([]any{0.5}))
	}
	g, err := b.Frame()
	require.NoError(t, err)
	f, err = f.With(g)
	require.NoError(t, err)
	require.Equal(t, 5, f.Index("share"))
	require.Equal(t, 0.5, f.Value(3, 5))
	require.Equal(t, "NaN", f.Value(1, 0), "a copy keeps a text that reads NaN")
}

func TestFrameComesBackFromItsBytes(t *testing.T) {
	f := sample(t)
	f.More = true
	text, err := f.MarshalBinary()
	require.NoError(t, err)
	var g Frame
	require.NoError(t, g.UnmarshalBinary(text))
	require.Equal(t, f, g)

	text, err = Frame{}.MarshalBinary()
	require.NoError(t, err)
	require.NoError(t, g.UnmarshalBinary(text))
	require.Equal(t, Frame{}, g)
}

func TestWhatNoFrameHoldsIsRefused(t *testing.T) {
	_, err := NewBuilder(nil).Frame()
	require.ErrorContains(t, err, "no column")
	b := NewBuilder([]Column{{"a", Integer}, {"a", Text}})
	_, err = b.Frame()
	require.ErrorContains(t, err, `two columns are called "a"`)
	require.ErrorContains(t, b.Add([]any{1}), "1 cells for 2 columns")
	require.Error(t, b.AddJSON([]byte(`[1.5,"x"]`)), "no whole number")
	require.Error(t, b.AddJSON([]byte(`{}`)))
}

func FuzzUnmarshalBinary(f *testing.F) {
	f.Add([]byte(`{"Columns":[{"name":"a","type":"integer"}],"Rows":[[1],[null]],"More":true}`))
	f.Add([]byte(`{"Columns":[{"name":"","type":"what"}],"Rows":[["x"]]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var g Frame
		if g.UnmarshalBinary(text) == nil {
			_, err := g.MarshalBinary()
			require.NoError(t, err)
		}
	})
}
