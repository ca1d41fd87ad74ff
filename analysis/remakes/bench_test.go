package remakes

import (
	"context"
	"testing"

	"lastroom/analysis/testdata/invented"
)

// BenchmarkSmallShop is a first review of 1,500 orders: 500 replicates, Firth.
func BenchmarkSmallShop(b *testing.B) {
	c, _ := invented.Workshop{Orders: 1500, Intercept: -3.3, Seed: 1}.Make()
	for range b.N {
		Faults(context.Background(), c, Options{Replicates: 500, Seed: 1})
	}
}

// BenchmarkFaults is the fault table with the crude part, and with all
// adjusted effects on 500 bootstrap replicates.
func BenchmarkFaults(b *testing.B) {
	c, _ := invented.Workshop{Orders: 100_000, Intercept: -3.1, Seed: 1}.Make()
	b.Run("crude/100000", func(b *testing.B) {
		b.ReportAllocs()
		for range b.N {
			Faults(context.Background(), c, Options{})
		}
	})
	b.Run("adjusted500/100000", func(b *testing.B) {
		b.ReportAllocs()
		for range b.N {
			d := Faults(context.Background(), c, Options{Replicates: 500, Seed: 1})
			b.ReportMetric(float64(d.Model.Patterns), "patterns")
		}
	})
}
