package load

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

var loadedAt = time.Date(2026, 10, 1, 8, 0, 0, 0, time.UTC)

func options(paths ...string) Options {
	return Options{Paths: paths, Program: "test", Now: loadedAt}
}

// Real people's measurements as order sheets (ANSUR II, see the README beside
// them): every row is taken.
func TestLoadSurveySheets(t *testing.T) {
	breadth.Leave(t, "TestLoadValues takes every row of a small one")
	dir := filepath.Join("..", "..", "..", "shared", "ansur2", "sheets-dev")
	if _, err := os.Stat(dir); err != nil {
		t.Skip("the survey's order sheets are not here")
	}
	book := filepath.Join(t.TempDir(), "shop.duckdb")
	r, err := Sheets(context.Background(), book, options(dir))
	require.NoError(t, err)
	assert.Empty(t, r.KeptOut)
	var read, taken int64
	for _, s := range r.Sheets {
		read, taken = read+s.Read, taken+s.Taken
	}
	assert.Equal(t, int64(6040+6040+72480), read)
	assert.Equal(t, read, taken)

	again, err := Sheets(context.Background(), book, options(dir))
	require.NoError(t, err)
	assert.Zero(t, again.Load)
	for _, s := range again.Sheets {
		assert.True(t, s.AlreadyIn, s.Sheet)
	}
}
