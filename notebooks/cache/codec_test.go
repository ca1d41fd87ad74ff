package cache

import (
	"bufio"
	"bytes"
	"errors"
	"math"
	"reflect"
	"testing"

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
	Call          func()
}

func sample() kept {
	zero := 0
	return kept{
		Text: "ball 9 ¼", N: -7, U: 65535, X: math.Inf(-1), Yes: true, Zero: &zero, Empty: []string{},
		Days: []int32{-1, 0, 1 << 30}, States: []uint8{3, 0}, Shares: []float64{1, math.Copysign(0, -1)}, Noted: []float64{}, Truths: []bool{true, false},
		Nested: []struct{ A [2]float64 }{{[2]float64{1, math.Copysign(0, -1)}}}, Map: map[string]float64{"a": 1, "b": 2},
	}
}

func packed(v reflect.Value) ([]byte, error) {
	var b bytes.Buffer
	w := packer{bufio.NewWriter(&b)}
	err := w.pack(v)
	err = errors.Join(err, w.Flush())
	return b.Bytes(), err
}

func TestValuesComeBackAsTheyWere(t *testing.T) {
	want := sample()
	b, err := packed(reflect.ValueOf(&want).Elem())
	require.NoError(t, err)
	var got kept
	rest, err := unpack(b, reflect.ValueOf(&got).Elem())
	require.NoError(t, err)
	require.Empty(t, rest)
	require.Equal(t, want, got)
	require.NotNil(t, got.Zero)
	require.Nil(t, got.None)
	require.NotNil(t, got.Empty)
	require.Nil(t, got.Absent)
	require.True(t, math.Signbit(got.Nested[0].A[1]))

	nan := math.NaN()
	b, err = packed(reflect.ValueOf(&nan).Elem())
	require.NoError(t, err)
	var x float64
	_, err = unpack(b, reflect.ValueOf(&x).Elem())
	require.NoError(t, err)
	require.True(t, math.IsNaN(x))
}

func TestWhatCantBeKeptIsRefused(t *testing.T) {
	for _, v := range []any{struct{ hidden int }{1}, struct{ Any any }{1}, struct{ F func() }{func() {}}, make(chan int), complex(1, 2)} {
		_, err := packed(reflect.ValueOf(v))
		require.ErrorContains(t, err, "can't be kept")
	}
}

func FuzzUnpack(f *testing.F) {
	v := sample()
	b, err := packed(reflect.ValueOf(&v).Elem())
	require.NoError(f, err)
	f.Add(b)
	f.Add(b[:len(b)/2])
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, b []byte) {
		var got kept
		_, _ = unpack(b, reflect.ValueOf(&got).Elem()) // must neither panic nor take much memory
	})
}
