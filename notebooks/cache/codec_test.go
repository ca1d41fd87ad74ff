package cache

import (
	"bytes"
	"io"
	"math"
	"reflect"
	"strconv"
	"testing"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/frame"
	"lastroom/analysis/measurers"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
	"lastroom/analysis/stats"
	"lastroom/reports/page"

	"github.com/stretchr/testify/require"
)

type kept struct {
	Text          string
	N             int32
	U             uint16
	X             float64
	Yes           bool
	Zero, None    *int
	Empty, Absent []string
	Nested        []struct{ A [2]float64 }
	Days          []int32
	States        []uint8
	Shares, Noted []float64
	Truths        []bool
	Map, NoMap    map[string]float64
	Any           any
}

func sample() kept {
	zero := 0
	return kept{
		Text: "ball 9 ¼", N: -7, U: 65535, X: math.Inf(-1), Yes: true, Zero: &zero, Empty: []string{},
		Days: []int32{-1, 0, 1 << 30}, States: []uint8{3, 0}, Shares: []float64{1, math.Copysign(0, -1)}, Noted: []float64{}, Truths: []bool{true, false},
		Nested: []struct{ A [2]float64 }{{[2]float64{1, math.Copysign(0, -1)}}}, Map: map[string]float64{"a": 1, "b": 2},
	}
}

func TestValuesComeBackAsTheyWere(t *testing.T) {
	want := sample()
	var b bytes.Buffer
	require.NoError(t, Encode(&b, &want))
	var got kept
	require.NoError(t, Decode(b.Bytes(), &got))
	require.Equal(t, want, got)
	require.NotNil(t, got.Zero)
	require.Nil(t, got.None)
	require.NotNil(t, got.Empty)
	require.Nil(t, got.Absent)
	require.True(t, math.Signbit(got.Nested[0].A[1]))

	b.Reset()
	nan := math.NaN()
	require.NoError(t, Encode(&b, &nan))
	var x float64
	require.NoError(t, Decode(b.Bytes(), &x))
	require.True(t, math.IsNaN(x))
	require.Error(t, Decode(append(b.Bytes(), 0), &x), "something behind the value")
}

// A large value is written column by column: as a whole it would stand in memory twice.
func TestColumnsAreWrittenOneByOne(t *testing.T) {
	type columns struct {
		A, B, C []float64
		In      struct{ D []float64 }
		Figure  stats.Estimate // which the codec tags
		Kept    int            `cbor:"k"`
		Left    int            `cbor:"-"`
	}
	column := make([]float64, 10_000)
	want := columns{A: column, B: column, C: column, Figure: stats.Estimate{Point: 2}, Kept: 7}
	want.In.D = column
	var w widest
	require.NoError(t, Encode(&w, &want))
	require.Less(t, w.most, w.Len()/3)
	var got columns
	require.NoError(t, Decode(w.Bytes(), &got))
	require.Equal(t, want, got)
}

// widest is a text that knows its longest write.
type widest struct {
	bytes.Buffer
	most int
}

func (w *widest) Write(b []byte) (int, error) {
	w.most = max(w.most, len(b))
	return w.Buffer.Write(b)
}

// Blocks and cells stand behind interfaces; a whole number among them may come
// back as another type of whole number, which prints the same.
func TestBlocksComeBackAsTheyWere(t *testing.T) {
	want := []page.Block{
		page.Prose{"a", "b"}, page.Markup{HTML: []byte("<p>"), Text: []string{"x"}}, page.Finding{ID: "f", Warnings: []string{}},
		page.Table{ID: "t", Rows: [][]page.Cell{{page.Text("x"), page.Date(3), {}, page.Percent(stats.Missing(3, "m", "few")), {Value: 0.5}, {Value: true}, {Value: cohort.Month(5)}}, nil}},
		page.Figure{ID: "g", SVG: []byte("<svg/>"), Data: page.Table{ID: "d"}}, page.Value{Name: "v", E: stats.Estimate{Point: 1, N: 2}},
	}
	var b bytes.Buffer
	require.NoError(t, Encode(&b, &want))
	var got []page.Block
	require.NoError(t, Decode(b.Bytes(), &got))
	Blocks(got)
	e := got[3].(page.Table).Rows[0][3].Value.(stats.Estimate)
	require.True(t, math.IsNaN(e.Point))
	require.Equal(t, []string{"few"}, e.Warnings)
	want[3].(page.Table).Rows[0][3], got[3].(page.Table).Rows[0][3] = page.Cell{}, page.Cell{} // NaN is never equal
	require.Equal(t, want, got)

	count := []page.Block{page.Table{Rows: [][]page.Cell{{page.Count(7)}}}}
	b.Reset()
	require.NoError(t, Encode(&b, &count))
	got = nil
	require.NoError(t, Decode(b.Bytes(), &got))
	Blocks(got)
	require.EqualValues(t, 7, got[0].(page.Table).Rows[0][0].Value)
}

func TestWhatCantBeKeptWholeIsRefused(t *testing.T) {
	refused := func(err error) { t.Helper(); require.ErrorContains(t, err, "can't be kept") }
	refused(Encode(io.Discard, &struct{ hidden int }{1}))
	refused(Encode(io.Discard, &[]struct{ F func() }{{func() {}}}))
	refused(Encode(io.Discard, &map[string]struct {
		A []int `json:"a,omitempty"`
	}{}))
	refused(Encode(io.Discard, &struct {
		A int `json:"-"`
	}{1}))
	for _, v := range []any{page.Prose{}, page.Markup{}, page.Finding{}, page.Table{}, page.Figure{}, page.Value{}, stats.Estimate{}} {
		require.NoError(t, whole(reflect.TypeOf(v), map[reflect.Type]bool{}))
	}
}

// An entry kept when a type had a field less is not there: the orders of such a
// program would lack a column.
func TestAnotherLayoutIsNotRead(t *testing.T) {
	type older struct {
		Levels struct{ Measurer cohort.Factor }
	}
	type newer struct {
		Levels struct{ Measurer, MeasurerKind cohort.Factor }
	}
	var v older
	v.Levels.Measurer = cohort.Factor{Levels: []string{"", "m1"}, Code: cohort.Column[int32]{1}}
	d := In(t.TempDir())
	require.NoError(t, Keep(d, "orders", v))
	_, _, ok := Find[newer](d, "orders")
	require.False(t, ok)
	same, _, ok := Find[older](d, "orders")
	require.True(t, ok)
	require.Equal(t, v, same)
	made, err := Of(d, "orders", func() (newer, error) { return newer{}, nil })
	require.NoError(t, err)
	require.Equal(t, newer{}, made)
}

// All that takes long is of types that are kept whole: a new field that is not
// must say so.
func TestFindingsCanBeKept(t *testing.T) {
	for _, kept := range []reflect.Type{reflect.TypeFor[remakes.FaultTable](), reflect.TypeFor[monitoring.Trend](), reflect.TypeFor[rules.Scorecard](), reflect.TypeFor[rules.Choice](), reflect.TypeFor[rules.Trial](),
		reflect.TypeFor[measurers.Comparison](), reflect.TypeFor[repeatability.Study](), reflect.TypeFor[risk.Course](), reflect.TypeFor[sensitivity.Silence](), reflect.TypeFor[sensitivity.Blanks](), reflect.TypeFor[[]human.Spread](), reflect.TypeFor[[]human.RangeMonth](), reflect.TypeFor[orders](), reflect.TypeFor[frame.Frame]()} {
		require.NoError(t, whole(kept, map[reflect.Type]bool{}))
	}
}

func FuzzDecode(f *testing.F) {
	v := sample()
	var b bytes.Buffer
	require.NoError(f, Encode(&b, &v))
	f.Add(b.Bytes())
	f.Add(b.Bytes()[:b.Len()/2])
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, text []byte) {
		var got kept
		_ = Decode(text, &got) // must neither panic nor take much memory
	})
}

type orders struct {
	Orders *cohort.Cohort
	Held   [][]form.State
}

// A hundred thousand orders as they are kept for the next command.
func hundredThousand() orders {
	const n = 100_000
	at := func(i, k int) int { return (i*7919 + k*104729) % 1000 }
	days := func(k int) cohort.Column[cohort.Day] {
		c := make(cohort.Column[cohort.Day], n)
		for i := range c {
			c[i] = cohort.Day(19000 + at(i, k))
		}
		return c
	}
	factor := func(k int) cohort.Factor {
		f := cohort.Factor{Levels: []string{"", "a", "b"}, Code: make([]int32, n)}
		for i := range f.Code {
			f.Code[i] = int32(at(i, k) % 3)
		}
		return f
	}
	amounts := func(k int) cohort.Column[float64] {
		c := make(cohort.Column[float64], n)
		for i := range c {
			c[i] = float64(at(i, k)) / 7
		}
		return c
	}
	c := &cohort.Cohort{Received: days(1), Shipped: days(2), Remade: days(3), Returned: days(4), Adjusted: days(5), ShaftMM: amounts(6), Cost: amounts(7),
		Closure: factor(1), Channel: factor(2), Sock: factor(3), Sex: factor(4), Tucked: factor(5), Orthotic: factor(6), Measurer: factor(7), Region: factor(8),
		Cause: factor(9), Zone: factor(10), Direction: factor(11), Side: factor(12),
		Customer: make([]int32, n), CutNo: make([]int16, n), CalledBack: make([]bool, n), Answered: make([]bool, n)}
	for i := range n {
		c.OrderID = append(c.OrderID, "O-"+strconv.Itoa(100000+i))
	}
	for range form.Faults {
		c.Cut, c.First = append(c.Cut, make([]form.State, n)), append(c.First, make([]form.State, n))
	}
	return orders{c, [][]form.State{make([]form.State, n), make([]form.State, n)}}
}

func TestOrdersComeBackAsTheyWere(t *testing.T) {
	want := hundredThousand()
	var b bytes.Buffer
	require.NoError(t, Encode(&b, &want))
	var got orders
	require.NoError(t, Decode(b.Bytes(), &got))
	require.True(t, reflect.DeepEqual(want, got)) // nobody reads a difference of so many rows
}

func BenchmarkOrders(b *testing.B) {
	v := hundredThousand()
	var text bytes.Buffer
	b.Run("encode", func(b *testing.B) {
		for b.Loop() {
			text.Reset()
			if err := Encode(&text, &v); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("decode", func(b *testing.B) {
		for b.Loop() {
			var got orders
			if err := Decode(text.Bytes(), &got); err != nil {
				b.Fatal(err)
			}
		}
	})
}
