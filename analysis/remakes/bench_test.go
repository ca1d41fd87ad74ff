package remakes

import (
	"testing"

	"lastroom/analysis/internal/invented"
)

// BenchmarkFaults is the fault table with the crude part, and with all
// adjusted effects on 500 bootstrap replicates.
func BenchmarkFaults(b *testing.B) {
	c, _ := invented.Workshop{Orders: 100_000, Intercept: -3.1, Seed: 1}.Make()
	b.Run("crude/100000", func(b *testing.B) {
		b.ReportAllocs()
		for range b.N {
			Faults(c, Options{})
		}
	})
	b.Run("adjusted500/100000", func(b *testing.B) {
		b.ReportAllocs()
		for range b.N {
			d := Faults(c, Options{Replicates: 500, Seed: 1})
			b.ReportMetric(float64(d.Model.Patterns), "patterns")
		}
	})
}
