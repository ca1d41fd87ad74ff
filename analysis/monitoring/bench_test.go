package monitoring

import (
	"context"
	"testing"

	"lastroom/analysis/remakes"
	"lastroom/analysis/testdata/invented"
)

// BenchmarkMillion is everything but the bootstrap on 1,000,000 orders.
func BenchmarkMillion(b *testing.B) {
	c, _ := invented.Workshop{Orders: 1_000_000, Intercept: -3.1, Seed: 1}.Make()
	m := remakes.MatureAfter(c, 0)
	for _, part := range []struct {
		name string
		run  func()
	}{
		{"faults", func() { remakes.Faults(context.Background(), c, remakes.Options{}) }},
		{"months", func() { months(c, 0) }},
		{"curves", func() { ShippingCurves(c, m) }},
		{"watch", func() { Watch(c, remakes.Options{}) }},
		{"adjusted20", func() { remakes.Faults(context.Background(), c, remakes.Options{Replicates: 20, Seed: 1}) }},
		{"adjusted120", func() { remakes.Faults(context.Background(), c, remakes.Options{Replicates: 120, Seed: 1}) }},
	} {
		b.Run(part.name, func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				part.run()
			}
		})
	}
}
