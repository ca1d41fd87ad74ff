package orderbook

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
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

// What it takes to begin with a reader: with a question that names no view, and with
// one about forms.
func BenchmarkNewReader(b *testing.B) {
	ctx := context.Background()
	db := handmade(b, books.Fixture(b, "three_orders"))
	for _, query := range []string{"FROM settings", "FROM form"} {
		b.Run(query, func(b *testing.B) {
			for b.Loop() {
				r, err := NewReader(ctx, db, Options{AsOf: cohort.NoDay})
				require.NoError(b, err)
				require.NoError(b, r.each(ctx, query, nil, func(*sql.Rows) error { return nil }))
				require.NoError(b, r.Close())
			}
		})
	}
}
