package risk

import (
	"context"
	"flag"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/invented"
)

var benchOrders = flag.Int("orders", 3000, "orders of the benchmarks")

// Fit and validation together; go test ./analysis/risk -run '^$' -bench Learn -orders 100000
func BenchmarkLearn(b *testing.B) {
	c, _ := invented.Workshop{Orders: *benchOrders, Intercept: -2.8, Seed: 7}.Make()
	for b.Loop() {
		_, err := Learn(context.Background(), c, Options{Resamples: 100, Seed: 1})
		require.NoError(b, err)
	}
}

// One form at the desk, with its reasons and what mending would bring.
func BenchmarkRisk(b *testing.B) {
	c, _ := invented.Workshop{Orders: 3000, Intercept: -2.8, Seed: 7}.Make()
	l, err := Learn(context.Background(), c, Options{Seed: 1})
	require.NoError(b, err)
	past := histories(c)
	for b.Loop() {
		x := caseOf(c, 17, past)
		l.risk(x)
	}
}
