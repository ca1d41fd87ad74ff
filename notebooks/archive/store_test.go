package archive

import (
	"bytes"
	"encoding/gob"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/frame"
	"lastroom/notebooks"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/testdata/fake"
	"lastroom/reports/page"
)

func runOf(t *testing.T, b *fake.Book) *execution.Run {
	t.Helper()
	n, err := notebooks.Parse("channels", []byte(fake.Channels), fake.Catalogue)
	require.NoError(t, err)
	r := execution.Runner{Book: b, Catalogue: fake.Catalogue, Version: "v0"}
	run, err := r.Run(t.Context(), n, execution.Options{})
	require.NoError(t, err)
	return run
}

func at(s string) notebooks.Clock {
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
	rec, err := s.Save(runOf(t, fake.New()), "v0", "Ann")
	require.NoError(t, err)
	assert.Empty(t, rec.Repeated)
	s.Clock = at("2026-10-20")
	again, err := s.Save(runOf(t, fake.New()), "v0", "Ben")
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
	require.NoError(t, page.HTML(&now, runOf(t, fake.New()).Doc))
	assert.Equal(t, now.String(), kept.String(), "the document comes back whole")
	csv, err := s.File(rec.ID, "tables/channels.csv")
	require.NoError(t, err)
	assert.Contains(t, string(csv), "channel,remade,shipped,share,share_low,share_high,share_n\n")
}

func TestRunsKeptAsGobAreReadToo(t *testing.T) {
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	run := runOf(t, fake.New())
	rec, err := s.Save(run, "v0", "")
	require.NoError(t, err)
	want, err := s.Document(rec.ID)
	require.NoError(t, err)
	folder := filepath.Join(s.Dir, rec.ID)
	for _, newer := range []string{"document.cbor", sumsName} { // older programs wrote neither
		require.NoError(t, os.Remove(filepath.Join(folder, newer)))
	}
	_, err = s.Document(rec.ID)
	assert.ErrorIs(t, err, ErrNoRun)

	require.NoError(t, os.WriteFile(filepath.Join(folder, "document.gob"), []byte("cut"), 0o600))
	_, err = s.Document(rec.ID)
	assert.ErrorContains(t, err, "run the notebook again")
	var older bytes.Buffer // the types behind interfaces were registered by the read before
	require.NoError(t, gob.NewEncoder(&older).Encode(run.Doc))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "document.gob"), older.Bytes(), 0o600))
	got, err := s.Document(rec.ID)
	require.NoError(t, err)
	var one, two bytes.Buffer
	require.NoError(t, page.HTML(&one, want))
	require.NoError(t, page.HTML(&two, got))
	assert.Equal(t, one.String(), two.String())
}

func TestStoreNamesStayInside(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "run.json"), []byte("{}"), 0o600))
	s := Store{Dir: filepath.Join(dir, "runs"), Clock: at("2026-10-16")}
	for _, id := range []string{"..", "../runs", "/etc", "a/../..", ".", "", "A", "a\x00"} {
		_, err := s.File(id, "run.json")
		assert.ErrorIs(t, err, ErrNoRun, id)
	}
	_, err := s.Save(runOf(t, fake.New()), "v0", "")
	require.NoError(t, err)
	list, _ := s.List()
	_, err = s.File(list[0].ID, "../../run.json")
	assert.Error(t, err)
}

func TestFailedRunNeverReplacesAGoodOne(t *testing.T) {
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	b := fake.New()
	good, err := s.Save(runOf(t, b), "v0", "")
	require.NoError(t, err)
	b.Answers["one_row"] = b.Answers["twice"] // now a cell fails
	bad, err := s.Save(runOf(t, b), "v0", "")
	require.NoError(t, err)
	assert.True(t, bad.Failed())
	assert.Equal(t, good.ID+"-failed", bad.ID)
	kept, err := s.Record(good.ID)
	require.NoError(t, err)
	assert.False(t, kept.Failed())
}

func TestAFrozenRunStays(t *testing.T) {
	s := Store{Dir: t.TempDir(), Clock: at("2026-10-16")}
	b := fake.New()
	first, err := s.Save(runOf(t, b), "v0", "")
	require.NoError(t, err)
	b.Answers["one_row"] = fake.Rows([]frame.Column{{Name: "orders", Kind: frame.Integer}}, []any{7}) // as another build might compute
	second, err := s.Save(runOf(t, b), "v0", "")
	require.NoError(t, err)
	assert.NotEqual(t, first.ID, second.ID)
	html, err := s.File(first.ID, "page.html")
	require.NoError(t, err)
	assert.Contains(t, string(html), "1,340")
	_, err = s.Record(second.ID)
	assert.NoError(t, err)
}
