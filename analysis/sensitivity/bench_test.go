package sensitivity

import (
	"testing"

	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/testdata/invented"
)

// At 100,000 orders: what a review of so many has (the shares, the worst case),
// and what a command makes when it is asked for.
func BenchmarkHundredThousand(b *testing.B) {
	c, _ := invented.Workshop{Orders: 100_000, Intercept: -2.6, Idle: 100, Seed: 1}.Make()
	table := remakes.Faults(b.Context(), c, remakes.Options{})
	b.Run("shares", func(b *testing.B) {
		for b.Loop() {
			Silent(b.Context(), c, table, rules.Scorecard{}, nil, Options{SharesOnly: true})
		}
	})
	b.Run("worst case", func(b *testing.B) {
		for b.Loop() {
			Unjudged(b.Context(), c, table, UnjudgedOptions{BoundsOnly: true})
		}
	})
	b.Run("silence", func(b *testing.B) {
		for b.Loop() {
			Silent(b.Context(), c, table, rules.Scorecard{}, nil, Options{})
		}
	})
	b.Run("filled in", func(b *testing.B) {
		for b.Loop() {
			Unjudged(b.Context(), c, table, UnjudgedOptions{Seed: 1})
		}
	})
}
