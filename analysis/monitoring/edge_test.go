package monitoring

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}

// everything runs all analyses and checks each estimate in their answers: its
// numbers are in order where there are any, and it says why where there are none.
// Any other number that isn't finite encoding/json refuses to write; an
// estimate's it would write as null. Nor do the findings' words hold one.
func everything(t *testing.T, c *cohort.Cohort) {
	t.Helper()
	m, checked := remakes.MatureAfter(c, 0), 0
	for _, v := range []any{
		remakes.Faults(context.Background(), c, remakes.Options{Replicates: 50, Seed: 1}), months(c, 0), ShippingCurves(c, m),
		Watch(c, remakes.Options{}), remakes.Complaints(c, m), remakes.Faults(context.Background(), c, remakes.Options{}),
	} {
		s := asJSON(t, v)
		for _, bad := range []string{"NaN", "Inf", "%!"} { // in words too
			if i := strings.Index(s, bad); i >= 0 {
				assert.Fail(t, bad+" in a finding", s[max(0, i-200):min(len(s), i+80)])
			}
		}
		for _, e := range estimates(reflect.ValueOf(v)) {
			requireSound(t, e)
			checked++
		}
	}
	require.Positive(t, checked)
}

// estimates are all those in a value.
func estimates(v reflect.Value) (found []stats.Estimate) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			found = estimates(v.Elem())
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			found = append(found, estimates(v.Index(i))...)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			found = append(found, estimates(v.MapIndex(k))...)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[stats.Estimate]() {
			if v.CanInterface() {
				found = append(found, v.Interface().(stats.Estimate))
			}
			return found
		}
		for i := range v.NumField() {
			found = append(found, estimates(v.Field(i))...)
		}
	}
	return found
}

func requireSound(t *testing.T, e stats.Estimate) {
	t.Helper()
	if !e.Given() {
		require.True(t, math.IsNaN(e.Point) && !e.Bounded(), "%+v", e)
		require.NotEmpty(t, e.Warnings, "%+v: no word on what is missing", e)
		return
	}
	require.NotEmpty(t, e.Method, "%+v", e)
	if e.Bounded() {
		require.LessOrEqual(t, e.Low, e.Point, "%+v", e)
		require.LessOrEqual(t, e.Point, e.High, "%+v", e)
		require.Greater(t, e.Level, 0.5, "%+v", e)
	}
}

// With CI=true of remakes from none to nothing else, otherwise the usual and nothing else.
func TestSmallWorkshopsAlwaysAnswer(t *testing.T) {
	intercepts := []float64{-3, 9}
	if breadth.Wide() {
		intercepts = []float64{-9, -3, 0, 9}
	}
	for seed, n := range []int{1, 2, 9, 40, 120, 300} {
		for _, intercept := range intercepts {
			c, _ := invented.Workshop{Orders: n, Intercept: intercept, Seed: uint64(seed)}.Make()
			everything(t, c)
		}
	}
}

func TestEmptyCohort(t *testing.T) {
	c, _ := invented.Workshop{Orders: 0}.Make()
	everything(t, c)
	assert.Equal(t, 0, remakes.Faults(context.Background(), c, remakes.Options{Replicates: 10}).MatureOrders)
}

func TestYoungBook(t *testing.T) {
	c, _ := invented.Workshop{Orders: 400, Intercept: -2, Days: 100, Seed: 2}.Make()
	everything(t, c)
	d := remakes.Faults(context.Background(), c, remakes.Options{Replicates: 50})
	assert.Equal(t, 0, d.MatureOrders)
	assert.False(t, d.RemakeShare.Given())
}

// spoil sets some entries of the cohort to odd but possible values.
func spoil(c *cohort.Cohort, rng *rand.Rand) {
	odd := []float64{math.NaN(), 0, -5, 1e9, 1e-9, 355.6}
	day := func(i int) cohort.Day {
		return []cohort.Day{cohort.NoDay, c.Shipped[i] - 900, c.Shipped[i], c.AsOf, c.AsOf + 50, c.Shipped[i] + 365}[rng.IntN(6)]
	}
	for range 3 * c.Len() {
		i := rng.IntN(c.Len())
		switch rng.IntN(8) {
		case 0:
			c.ShaftMM[i] = odd[rng.IntN(len(odd))]
		case 1:
			c.Remade[i] = day(i)
		case 2:
			c.Returned[i] = day(i)
		case 3:
			c.Received[i] = day(i)
		case 4:
			f := rng.IntN(len(form.Faults))
			c.Cut[f][i], c.First[f][i] = form.State(rng.IntN(4)), form.State(rng.IntN(4))
		case 5:
			c.Customer[i] = 0
		case 6:
			c.Channel.Code[i], c.Sex.Code[i], c.Measurer.Code[i] = 0, 0, 0
		case 7:
			c.CutNo[i], c.CalledBack[i] = int16(rng.IntN(4)), rng.IntN(2) == 0
		}
	}
}

// With CI=true twelve, of up to 470 orders, otherwise four, of up to 150.
func TestOddCohortsAlwaysAnswer(t *testing.T) {
	invented.Long(t)
	for seed := range uint64(breadth.Few(4, 12)) {
		c, _ := invented.Workshop{Orders: 30 + int(seed)*40, Intercept: -2, Seed: seed}.Make()
		spoil(c, stats.Source(seed, 99))
		everything(t, c)
	}
}

// All orders alike, all of one customer, all shipped on one day.
func TestDegenerateCohorts(t *testing.T) {
	alike := invented.Bare(300)
	for i := range 60 {
		invented.Remake(alike, i*5, 30)
	}
	everything(t, alike)
	for i := range alike.Customer {
		alike.Customer[i] = 0
	}
	everything(t, alike)
	for i := range alike.Shipped {
		alike.Shipped[i] = alike.AsOf - 700
	}
	everything(t, alike)
	for f := range alike.Cut {
		for i := range alike.Cut[f] {
			alike.Cut[f][i] = form.With
		}
	}
	everything(t, alike)
}

// A fault with no, and one with only, remakes: nothing infinite.
func TestSeparation(t *testing.T) {
	invented.Long(t)
	c, _ := invented.Workshop{Orders: 900, Intercept: -2, Seed: 5}.Make()
	for i := range c.Shipped {
		c.Cut[0][i], c.Cut[1][i] = form.Without, form.Without
		if i%10 == 0 {
			c.Cut[0][i], c.Remade[i] = form.With, cohort.NoDay
		}
		if i%10 == 1 {
			c.Cut[1][i], c.Remade[i] = form.With, c.Shipped[i]+20
		}
	}
	everything(t, c)
	d := remakes.Faults(context.Background(), c, remakes.Options{Replicates: 50})
	assert.False(t, d.Faults[0].AdjustedRD.Given(), "no remake with it: too few to tell")
	only := d.Faults[1].AdjustedRD
	if only.Given() {
		assert.Greater(t, only.Point, 0.5)
		assert.LessOrEqual(t, only.High, 1.0)
	}
}

func FuzzAnyWorkshopAnswers(f *testing.F) {
	f.Add(uint64(1), uint16(300), -2.0, true)
	f.Add(uint64(2), uint16(25), 0.0, false)
	f.Add(uint64(3), uint16(0), -5.0, true)
	f.Fuzz(func(t *testing.T, seed uint64, orders uint16, intercept float64, odd bool) {
		if math.IsNaN(intercept) || math.IsInf(intercept, 0) {
			return
		}
		c, _ := invented.Workshop{Orders: int(orders % 600), Intercept: intercept, Seed: seed}.Make()
		if odd && c.Len() > 0 {
			spoil(c, stats.Source(seed, 1))
		}
		everything(t, c)
	})
}

// Months of nothing but remakes, as FuzzAnyWorkshopAnswers found: no NaN in words. With
// CI=true of fewer and of more orders too.
func TestMonthsOfNothingButRemakes(t *testing.T) {
	for _, orders := range []int{374, 40, 900}[:breadth.Few(1, 3)] {
		c, _ := invented.Workshop{Orders: orders, Intercept: 9.273, Seed: 0}.Make()
		everything(t, c)
	}
}
