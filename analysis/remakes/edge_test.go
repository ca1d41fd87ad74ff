package remakes

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/internal/invented"
)

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}

// everything runs all analyses and checks that their JSON can be written:
// encoding/json refuses NaN and infinite numbers, so a number that slipped out
// unguarded fails here.
func everything(t *testing.T, c *cohort.Cohort) {
	t.Helper()
	m := MatureAfter(c, 0)
	for _, v := range []any{
		Faults(c, Options{Replicates: 50, Seed: 1}), ByMonth(c, m), ShippingCurves(c, m),
		Watch(c, Options{}), Complaints(c, m), ToLookAt(c, m), Top(Faults(c, Options{}), 3),
	} {
		s := asJSON(t, v)
		assert.NotContains(t, s, "NaN")
		assert.NotContains(t, strings.ToLower(s), ":inf")
	}
}

func TestSmallWorkshopsAlwaysAnswer(t *testing.T) {
	for _, n := range []int{1, 2, 9, 40, 120, 300} {
		for seed := range uint64(6) {
			for _, intercept := range []float64{-9, -3, 0, 9} {
				c, _ := invented.Workshop{Orders: n, Intercept: intercept, Seed: seed}.Make()
				everything(t, c)
			}
		}
	}
}

func TestEmptyCohort(t *testing.T) {
	c, _ := invented.Workshop{Orders: 0}.Make()
	everything(t, c)
	assert.Equal(t, 0, Faults(c, Options{Replicates: 10}).MatureOrders)
}

func TestYoungBook(t *testing.T) {
	c, _ := invented.Workshop{Orders: 400, Intercept: -2, Days: 100, Seed: 2}.Make()
	everything(t, c)
	d := Faults(c, Options{Replicates: 50})
	assert.Equal(t, 0, d.MatureOrders)
	assert.False(t, d.RemakeShare.Given())
}
