package brief

import (
	"testing"

	"lastroom/analysis/cohort"
	"lastroom/analysis/monitoring"
	"lastroom/reports/page"

	"github.com/stretchr/testify/assert"
)

// That nothing came back is told apart from nobody having told, and from no pair having
// been shipped.
func TestNothingCameBack(t *testing.T) {
	const september = cohort.Month(2026*12 + 8)
	m := monitoring.Monthly{Months: []monitoring.Month{{Month: september, Shipped: 4, Mature: true}}}
	remade := func(month cohort.Month) string {
		return RemadeBlocks(m, month, "", nil)[0].(page.Prose)[0]
	}
	assert.Contains(t, Lead(monitoring.Trend{Monthly: m}, september), "Of 4 pairs shipped in September 2026, none have come back")
	assert.Equal(t, "No pair shipped in September 2026 has come back to be made again so far.", remade(september))
	assert.Equal(t, "No pair of the book was shipped in August 2026.", remade(september-1))
	m.NoWord = true
	assert.Equal(t, "4 pairs were shipped in September 2026, but nobody has told how any pair of the book fits. Load the reports of fit too (kept, adjusted, remade, returned): without them nothing can be told.",
		Lead(monitoring.Trend{Monthly: m}, september))
	assert.Equal(t, "Nobody has told yet whether a pair shipped in September 2026 has to be made again.", remade(september))
}
