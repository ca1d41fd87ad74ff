package orderbook

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/testdata/books"
)

func BenchmarkCohort(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			if testing.Short() && n > 100_000 {
				b.Skip("long: run without -short")
			}
			r := readerAt(b, handmade(b, strings.ReplaceAll(books.Fixture(b, "many_orders"), "@N", fmt.Sprint(n))), "2026-01-01")
			for b.Loop() {
				c, err := r.Cohort(context.Background())
				require.NoError(b, err)
				require.Equal(b, n, c.Len())
			}
		})
	}
}
