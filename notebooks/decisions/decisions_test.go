package decisions

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/notebooks/archive"
)

var ours = []rules.Rule{{ID: "tall-home", Title: "Tall boots from home"}, {ID: "odd", Title: "Odd numbers"}}

func TestMatchByTitleOrID(t *testing.T) {
	for said, id := range map[string]string{"odd": "odd", " ODD ": "odd", "tall  boots from HOME": "tall-home", "tall-home": "tall-home", "short": "", "": ""} {
		r, ok := Match(ours, said)
		assert.Equal(t, id, r.ID, said)
		assert.Equal(t, id != "", ok, said)
	}
}

// Lines written before decisions could be mended are read, and each later line finds
// its decision; one about a decision that is gone is passed over.
func TestLedgerOnlyGrows(t *testing.T) {
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	l := Ledger{Root: root}
	lines, err := l.Read()
	require.NoError(t, err)
	require.Empty(t, lines)
	old := `{"id":"A","rule":"odd","words":"hold them","run":"r-1","who":"Ann","on":"2026-01-10","revisit":"2026-06-30","evidence":[]}
{"id":"B","rule":"odd","words":"look later","run":"r-1","who":"Ann","on":"2026-07-01","revisit":"2026-09-30","looks_at":"A","evidence":[]}
`
	require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(old), 0o600))
	day, err := cohort.ParseDay("2026-10-01")
	require.NoError(t, err)
	for _, d := range []Decision{
		{ID: "C", Rule: "odd", Words: "hold those over 3", Who: "Ben", On: day, Revisit: day + 30, About: "A", Does: Mends},
		{ID: "D", Rule: "a rule that is gone", Words: "x", Who: "Ben", On: day, Revisit: cohort.NoDay},
		{ID: "E", About: "nobody", Does: Ends, Last: &day},
		{ID: "F", Rule: "a rule that is gone", Words: "why", Who: "Ann", On: day, About: "D", Does: TakesBack},
	} {
		require.NoError(t, l.Add(d))
	}
	lines, err = l.Read()
	require.NoError(t, err)
	require.Len(t, lines, 6)
	text, err := os.ReadFile(filepath.Join(dir, file))
	require.NoError(t, err)
	assert.Equal(t, old, string(text[:len(old)]))

	all := Fold(lines, ours, day)
	require.Len(t, all, 2)
	d, a := all[0], all[1]
	assert.Equal(t, "Odd numbers", a.Title)
	assert.Equal(t, "hold those over 3", a.Words)
	assert.Equal(t, "hold them", a.Former[0].Words)
	assert.Len(t, a.Looked, 1)
	assert.False(t, a.Due, "the mended day is not there yet")
	assert.True(t, Fold(lines, ours, day+30)[1].Due)
	assert.Equal(t, "why", d.Taken.Words)
	assert.False(t, d.Open())
	assert.Equal(t, "a rule that is gone", d.Title)

	// A line that was cut short at any byte was never taken, and gives way to the next.
	last, err := json.Marshal(lines[5])
	require.NoError(t, err)
	for cut := range len(last) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), append(text[:len(text):len(text)], last[:cut]...), 0o600))
		lines, err = l.Read()
		require.NoError(t, err)
		require.Len(t, lines, 6)
		require.NoError(t, l.Add(Decision{ID: "G"}))
		lines, err = l.Read()
		require.NoError(t, err)
		require.Len(t, lines, 7)
	}
	// A hand that took the end of the last line off costs nothing either.
	require.NoError(t, os.WriteFile(filepath.Join(dir, file), text[:len(text)-1], 0o600))
	require.NoError(t, l.Add(Decision{ID: "G"}))
	lines, err = l.Read()
	require.NoError(t, err)
	require.Len(t, lines, 7)
	require.NoError(t, os.WriteFile(filepath.Join(dir, file), append([]byte("{half\n"), text...), 0o600))
	_, err = l.Read()
	assert.ErrorContains(t, err, "decisions.jsonl, line 1, is damaged")
}

// The numbers of a decision stand beside those of the newest run of its notebook, or,
// where it rests on none, of the newest that has any of them.
func TestKeptItsPromise(t *testing.T) {
	value := func(name string, low, point, high float64) archive.RecordValue {
		e, err := json.Marshal(stats.Estimate{Low: low, Point: point, High: high, Level: 0.95})
		require.NoError(t, err)
		return archive.RecordValue{Name: name, Text: string(e), E: e}
	}
	recs := []archive.Record{
		{ID: "other-9", Notebook: "other", Values: []archive.RecordValue{value("faults.odd.rd", 1, 2, 3)}},
		{ID: "rules-3", Notebook: "rules", Failures: []string{"it failed"}},
		{ID: "rules-2", Notebook: "rules", Values: []archive.RecordValue{value("rule.odd.held_share", 10, 11, 12), value("rule.odd.net", 0, 5, 9)}},
		{ID: "rules-1", Notebook: "rules", Values: []archive.RecordValue{value("rule.odd.held_share", 20, 21, 22)}},
	}
	evidence := []archive.RecordValue{value("rule.odd.held_share", 20, 21, 22), value("rule.odd.net", 1, 4, 8), value("rule.odd.gone", 1, 2, 3)}
	for _, run := range []string{"", "rules-1"} {
		v := View{Decision: Decision{Rule: "odd", Run: run, Evidence: evidence}}
		v.Keep(recs)
		assert.Equal(t, "rules-2", v.Newer)
		require.Len(t, v.Kept, 3)
		assert.Equal(t, "lower now, beyond both intervals", v.Kept[0].Says)
		assert.Equal(t, "not told apart: the intervals overlap", v.Kept[1].Says)
		assert.Equal(t, "not in the newest run", v.Kept[2].Now)
	}
	v := View{Decision: Decision{Run: "somebody removed it", Evidence: evidence}}
	v.Keep(recs)
	assert.Empty(t, v.Kept)
	assert.Equal(t, []archive.RecordValue{evidence[0]}, AboutRule(recs[3], "odd"))

	// The review tells of rules too, under the name of its cell.
	review := archive.Record{ID: "review-4", Notebook: "review", Values: []archive.RecordValue{value("review.rule.odd.held_share", 10, 11, 12), value("review.rule.odd.kept_promise", 0.5, 0.8, 1.1)}}
	v = View{Decision: Decision{Rule: "odd", Evidence: append(evidence, archive.RecordValue{Name: "rule.odd.kept_promise"})}}
	v.Keep(append([]archive.Record{review}, recs...))
	assert.Equal(t, "review-4", v.Newer)
	assert.Equal(t, review.Values[1].Text, v.Promise)
	review.Values[1] = value("review.rule.odd.kept_promise", 0.5, 1.4, 5)
	v.Keep([]archive.Record{review})
	assert.Contains(t, v.Promise, "too wide an interval to tell yet: ")
	v.Keep(recs)
	assert.Equal(t, "not in the newest run", v.Promise)
}
