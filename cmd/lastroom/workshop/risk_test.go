package workshop

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/risk"
	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop/ruling"
)

// The model is fitted once and kept; an old day has its own and keeps none; older
// versions can be asked for; a damaged file is passed over.
func TestRiskModelIsKept(t *testing.T) {
	dir := ownDemo(t)
	book := filepath.Join(dir, "shop.duckdb")
	w, err := Open(Setup{Book: book})
	require.NoError(t, err)
	models := w.files().Models()
	require.NoError(t, os.RemoveAll(models))
	ask := func(q RiskQuestion) *risk.Report {
		t.Helper()
		r, _, err := w.Risk(t.Context(), q, Silent)
		require.NoError(t, err)
		return r
	}
	first := ask(RiskQuestion{AsOf: cohort.NoDay})
	require.Equal(t, 1, first.Model.Version)
	require.NotEmpty(t, first.Orders)
	require.Len(t, first.Kept, 1)
	require.NoError(t, os.RemoveAll(w.files().Cache()))
	again := ask(RiskQuestion{AsOf: cohort.NoDay})
	require.Equal(t, first.Orders[:20], again.Orders[:20], "from the kept model")
	require.Len(t, again.Kept, 1)

	old, err := cohort.ParseDay("2025-12-31")
	require.NoError(t, err)
	past := ask(RiskQuestion{AsOf: old})
	assert.Zero(t, past.Model.Version, "that of a past day is not kept")
	assert.Equal(t, old, past.Model.AsOf)
	assert.Less(t, past.Model.Remakes, first.Model.Remakes)

	// Other rules: the model is held against them anew, the old one stays.
	require.NoError(t, os.WriteFile(ruling.Beside(book), []byte("- id: tall\n  title: tall boots\n  why: tall boots are hard to fit\n  when: shaft_height_in > 15\n  from: 2024-01-01\n"), 0o600))
	w, err = Open(Setup{Book: book})
	require.NoError(t, err)
	second := ask(RiskQuestion{AsOf: cohort.NoDay})
	assert.Equal(t, 2, second.Model.Version)
	assert.Len(t, second.Kept, 2)
	assert.Equal(t, "the shop's rules in force", second.Validation.Rivals[2].Rival)
	assert.Equal(t, 1, ask(RiskQuestion{AsOf: cohort.NoDay, Version: 1}).Model.Version)
	_, _, err = w.Risk(t.Context(), RiskQuestion{AsOf: cohort.NoDay, Version: 7}, Silent)
	assert.ErrorContains(t, err, "there is no kept risk model 7; there are 1 (as of")
	_, _, err = w.Risk(t.Context(), RiskQuestion{AsOf: cohort.NoDay, Order: "W0001"}, Silent)
	assert.ErrorContains(t, err, "there is no order")

	files, err := filepath.Glob(filepath.Join(models, "model-0002-*.json"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	text[len(text)/2] ^= 1
	require.NoError(t, os.WriteFile(files[0], text, 0o600))
	if breadth.Wide() { // every day it is kept anew out of the cache
		require.NoError(t, os.RemoveAll(w.files().Cache()))
	}
	assert.Equal(t, 2, ask(RiskQuestion{AsOf: cohort.NoDay}).Model.Version, "kept anew")
}

// What the book says of an order's form is the same whether it comes with the
// cohort, which the model is fitted on, or alone, which its risk is told of.
func TestCasesAgreeWithTheCohort(t *testing.T) {
	w, err := Open(Setup{Book: demoBook(t)})
	require.NoError(t, err)
	s, err := w.Look(t.Context(), cohort.NoDay)
	require.NoError(t, err)
	defer s.Close()
	c, err := s.Cohort(t.Context())
	require.NoError(t, err)
	all, err := s.Cases(t.Context(), true)
	require.NoError(t, err)
	by := map[string]*risk.Case{}
	for i := range all {
		by[all[i].ID] = &all[i].Case
	}
	compared, again := 0, 0
	for i, of := range risk.CasesOf(c) {
		x := by[c.OrderID[i]]
		if x == nil || c.CutNo[i] == 0 {
			continue
		}
		compared++
		require.Equal(t, fmt.Sprintf("%+v", *of), fmt.Sprintf("%+v", *x), c.OrderID[i])
		if x.History != risk.FirstPair {
			again++
		}
	}
	require.Greater(t, compared, orders*2/3)
	require.Positive(t, again)
	require.Len(t, form.Faults, 13)
}
