package archive

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/stats"
	"lastroom/notebooks/testdata/fake"
	"lastroom/reports/page"
)

func TestCompareInWords(t *testing.T) {
	b := fake.New()
	b.Answers["one_row"] = fake.Rows([]frame.Column{{Name: "orders", Kind: frame.Integer}}, []any{1340})
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	one, err := s.Save(runOf(t, b), "v0", "")
	require.NoError(t, err)
	b.Facts.Hash, b.Facts.Load, b.Facts.AsOf = "def", 4, fake.Day("2026-11-30")
	b.Answers["one_row"] = fake.Rows([]frame.Column{{Name: "orders", Kind: frame.Integer}}, []any{7})
	two, err := s.Save(runOf(t, b), "v0", "")
	require.NoError(t, err)
	two.Values = append(two.Values, RecordValue{Name: "rules.marks.when", Text: "marks_missing > 1"})
	one.Values = append(one.Values, RecordValue{Name: "rules.marks.when", Text: "marks_missing > 0"})

	finding := func(low float64) RecordValue {
		e, err := json.Marshal(stats.Estimate{Point: 0.06, Low: low, High: 0.12, Level: 0.95, N: 900, Method: "as told"})
		require.NoError(t, err)
		return RecordValue{Name: "review.tape-marks-missing.adjusted_risk_difference", Text: "6.0 per 100", E: e}
	}
	one.Values, two.Values = append(one.Values, finding(0.01)), append(two.Values, finding(-0.01))

	var out bytes.Buffer
	require.NoError(t, page.WriteText(&out, Compare(one, two, cohort.Changes{Loads: 1, LateOutcomes: cohort.Affected{Orders: 2, Some: []string{"o-1", "o-2"}}, CorrectedOrders: cohort.Affected{Orders: 1, Some: []string{"o-9"}}}), page.TextOptions{Width: 200}))
	for _, want := range []string{
		"One more month of orders; one finding gone (tape marks missing), because its interval is wider now; the number itself is much as it was. 1 number differs",
		"Tape marks missing is no finding any more",
		"The as-of day moved from 2026-10-30 to 2026-11-30",
		"The book changed by 1 load.",
		"Late outcomes: 2 orders that had been shipped by then got a report (o-1, o-2).",
		"1 order was corrected (o-9).",
		"The rule marks was “marks_missing > 0” and is “marks_missing > 1”.",
		"The parameter month was 2026-09 and is 2026-10.",
		"“nobody ships”: before “no longer supported”, now “holds” (7).",
		"all, orders  1,340   7",
	} {
		assert.Contains(t, out.String(), want)
	}
}
