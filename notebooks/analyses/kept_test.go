package analyses

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/testdata/invented"
	"lastroom/notebooks/cache"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// What the cache leaves out of a trend is of no use to who reads it: a kept one
// prints as a fresh one, with and without a baseline.
func TestAKeptTrendPrintsAsAFreshOne(t *testing.T) {
	for _, orders := range []int{60, 1500} {
		c, _ := invented.Workshop{Orders: orders, Intercept: -2.5, Seed: 5}.Make()
		fresh := monitoring.Watch(c, remakes.Options{})
		require.Equal(t, orders == 1500, fresh.Monthly.Baseline != nil)
		var b bytes.Buffer
		require.NoError(t, cache.Encode(&b, &fresh))
		var kept monitoring.Trend
		require.NoError(t, cache.Decode(b.Bytes(), &kept))
		require.Equal(t, printed(t, fresh), printed(t, kept))
	}
}

func printed(t *testing.T, d monitoring.Trend) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, json.NewEncoder(&b).Encode(d))
	require.NoError(t, page.HTML(&b, review.TrendPage(d)))
	return b.String()
}
