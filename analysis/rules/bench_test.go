package rules

import (
	"context"
	"testing"

	"lastroom/analysis/cohort"
	"lastroom/analysis/testdata/invented"
)

// BenchmarkScore is the scorecard of 13 rules without a start day, and with one
// (200 replicates).
func BenchmarkScore(b *testing.B) {
	c, _ := invented.Workshop{Orders: 100_000, Intercept: -3.1, Seed: 1}.Make()
	calls := callsOf(c)
	plain, started := byFault(c, cohort.NoDay), byFault(c, c.AsOf-580)
	b.Run("plain/100000", func(b *testing.B) {
		for range b.N {
			Score(context.Background(), c, plain, calls, Options{})
		}
	})
	b.Run("corrected200/100000", func(b *testing.B) {
		for range b.N {
			Score(context.Background(), c, plain, calls, Options{Replicates: 200})
		}
	})
	b.Run("one_started200/100000", func(b *testing.B) {
		for range b.N {
			Score(context.Background(), c, started[:1], calls, Options{Replicates: 200})
		}
	})
}

// BenchmarkChoose is the choice among 17 rules at a budget, 100 resamples.
func BenchmarkChoose(b *testing.B) {
	c, _ := invented.Workshop{Orders: 100_000, Intercept: -3.1, Seed: 1}.Make()
	as, calls := defaults(c), callsOf(c)
	month, remake, callback := 500.0, 420.0, 18.0
	for b.Loop() {
		Choose(context.Background(), c, as, calls, ChooseOptions{CallsAMonth: &month, Options: Options{Replicates: 100, Costs: Costs{Remake: &remake, Callback: &callback}}})
	}
}
