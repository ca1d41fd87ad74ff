package notebooks

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/frame"
	"lastroom/reports/page"
)

func at(s string) Clock {
	return func() time.Time {
		t, err := time.Parse(time.DateOnly, s)
		if err != nil {
			panic(err)
		}
		return t
	}
}

func TestStoreKeepsARunAndProvesARepeat(t *testing.T) {
	s := Store{Dir: filepath.Join(t.TempDir(), "runs"), Clock: at("2026-10-16")}
	rec, err := s.Save(runOf(t, fake(), small, Options{}), "v0", "Ann")
	require.NoError(t, err)
	assert.Empty(t, rec.Repeated)
	s.Clock = at("2026-10-20")
	again, err := s.Save(runOf(t, fake(), small, Options{}), "v0", "Ben")
	require.NoError(t, err)
	assert.Equal(t, rec.ID, again.ID)
	assert.Len(t, again.Repeated, 1)
	assert.Equal(t, "Ann", again.By)

	list, err := s.List()
	require.NoError(t, err)
	require.Len(t, list, 1)
	m, ok := list[0].Month()
	assert.True(t, ok)
	assert.Equal(t, "2026-09", m.String())
	d, err := s.Document(rec.ID)
	require.NoError(t, err)
	var kept, now bytes.Buffer
	require.NoError(t, page.HTML(&kept, d))
	require.NoError(t, page.HTML(&now, runOf(t, fake(), small, Options{}).Doc))
	assert.Equal(t, now.String(), kept.String(), "the document comes back whole")
	csv, err := s.File(rec.ID, "tables/channels.csv")
	require.NoError(t, err)
	assert.Contains(t, string(csv), "channel,remade,shipped,share,share_low,share_high,share_n\n")
}

func TestStoreNamesStayInside(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "run.json"), []byte("{}"), 0o600))
	s := Store{Dir: filepath.Join(dir, "runs"), Clock: at("2026-10-16")}
	for _, id := range []string{"..", "../runs", "/etc", "a/../..", ".", "", "A", "a\x00"} {
		_, err := s.File(id, "run.json")
		assert.ErrorIs(t, err, ErrNoRun, id)
	}
	_, err := s.Save(runOf(t, fake(), small, Options{}), "v0", "")
	require.NoError(t, err)
	list, _ := s.List()
	_, err = s.File(list[0].ID, "../../run.json")
	assert.Error(t, err)
}

func TestFailedRunNeverReplacesAGoodOne(t *testing.T) {
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	b := fake()
	good, err := s.Save(runOf(t, b, small, Options{}), "v0", "")
	require.NoError(t, err)
	b.answers["one_row"] = b.answers["twice"] // now a cell fails
	bad, err := s.Save(runOf(t, b, small, Options{}), "v0", "")
	require.NoError(t, err)
	assert.True(t, bad.Failed())
	assert.Equal(t, good.ID+"-failed", bad.ID)
	kept, err := s.Record(good.ID)
	require.NoError(t, err)
	assert.False(t, kept.Failed())
}

func TestAFrozenRunStays(t *testing.T) {
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	b := fake()
	first, err := s.Save(runOf(t, b, small, Options{}), "v0", "")
	require.NoError(t, err)
	b.answers["one_row"] = rows([]frame.Column{{Name: "orders", Kind: frame.Integer}}, []any{7}) // as another build might compute
	second, err := s.Save(runOf(t, b, small, Options{}), "v0", "")
	require.NoError(t, err)
	assert.NotEqual(t, first.ID, second.ID)
	html, err := s.File(first.ID, "page.html")
	require.NoError(t, err)
	assert.Contains(t, string(html), "1,340")
	_, err = s.Record(second.ID)
	assert.NoError(t, err)
}

func TestCompareInWords(t *testing.T) {
	b := fake()
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	one, err := s.Save(runOf(t, b, small, Options{}), "v0", "")
	require.NoError(t, err)
	b.facts.Hash, b.facts.Load, b.facts.AsOf = "def", 4, day("2026-11-30")
	b.answers["one_row"] = rows([]frame.Column{{Name: "orders", Kind: frame.Integer}}, []any{7})
	two, err := s.Save(runOf(t, b, small, Options{}), "v0", "")
	require.NoError(t, err)
	two.Values = append(two.Values, RecordValue{Name: "rules.marks.when", Text: "marks_missing > 1"})
	one.Values = append(one.Values, RecordValue{Name: "rules.marks.when", Text: "marks_missing > 0"})

	var out bytes.Buffer
	require.NoError(t, page.WriteText(&out, Compare(one, two, Changes{Loads: 1, LateOutcomes: Affected{2, []string{"o-1", "o-2"}}, CorrectedOrders: Affected{1, []string{"o-9"}}}), page.TextOptions{Width: 200}))
	for _, want := range []string{
		"The as-of day moved from 2026-10-30 to 2026-11-30",
		"The book changed by 1 load.",
		"Late outcomes: 2 orders that had been shipped by then got a report (o-1, o-2).",
		"1 order was corrected (o-9).",
		"The rule marks was “marks_missing > 0” and is “marks_missing > 1”.",
		"The parameter month was 2026-09 and is 2026-10.",
		"“nobody ships”: before “no longer supported”, now “holds” (7).",
		"all.orders    1,340       7",
	} {
		assert.Contains(t, out.String(), want)
	}
}

// The shape that the published JSON schema of the format (4.5) asks of a
// notebook, a markdown cell and a code cell: the required keys.
func TestOpenJSON(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, runOf(t, fake(), small, Options{}).OpenJSON(&b))
	var nb map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &nb))
	assert.EqualValues(t, 4, nb["nbformat"])
	assert.EqualValues(t, 5, nb["nbformat_minor"])
	ids := map[any]bool{}
	code := 0
	for _, c := range nb["cells"].([]any) {
		c := c.(map[string]any)
		assert.Regexp(t, `^[a-zA-Z0-9_-]{1,64}$`, c["id"])
		assert.False(t, ids[c["id"]])
		ids[c["id"]] = true
		assert.Contains(t, c, "metadata")
		assert.IsType(t, "", c["source"])
		if c["cell_type"] == "code" {
			code++
			assert.Contains(t, c, "execution_count")
			for _, o := range c["outputs"].([]any) {
				o := o.(map[string]any)
				assert.Equal(t, "display_data", o["output_type"])
				assert.Contains(t, o, "data")
				assert.Contains(t, o, "metadata")
			}
		} else {
			assert.Len(t, c, 4, "a markdown cell has no other key")
		}
	}
	assert.Equal(t, 3, code)
}
