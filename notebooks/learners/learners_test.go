package learners

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/notebooks/journal"
)

func TestALearnerIsKeptAndForgotten(t *testing.T) {
	dir := t.TempDir()
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	at := time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)
	s := NewStore(root, func() time.Time { return at })
	ann, err := s.Enter(" Ann ")
	require.NoError(t, err)
	again, err := s.Enter("ANN")
	require.NoError(t, err)
	assert.Equal(t, ann, again)
	ben, err := s.Enter("Ben")
	require.NoError(t, err)

	plan := practice.Plan{Seed: 7, Forms: 20, Unit: form.Centimetre, Weights: map[string]float64{"outline-broken": 2}}
	no, err := s.BeginRound(ann.Word, plan)
	require.NoError(t, err)
	assert.Equal(t, 1, no)
	set, err := plan.Set()
	require.NoError(t, err)
	seen, err := set.See(practice.Answer{Learner: "Ann", Form: "P02", Verdict: practice.Ask, Faults: []string{"self-measured"}})
	require.NoError(t, err)
	require.NoError(t, s.Answer(ann.Word, 1, seen))
	require.ErrorIs(t, s.Answer(ann.Word, 1, seen), ErrAnswered)
	require.ErrorIs(t, s.Answer(ann.Word, 2, seen), journal.ErrNone)

	got, err := s.Find(ann.Word)
	require.NoError(t, err)
	assert.Equal(t, &Learner{ann.Word, "Ann", at, []Round{{plan, at, []practice.Seen{seen}}}}, got)
	r := &got.Rounds[0]
	assert.False(t, r.Ended())
	assert.Equal(t, 0, r.Next(set))
	assert.Equal(t, [][]practice.Seen{{seen}}, got.Answers())

	all, err := s.All()
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []string{"Ann", "Ben"}, []string{all[0].Name, all[1].Name})
	assert.Len(t, Outlook(all, ann.Word), 13)
	require.NoError(t, s.Remove(ann.Word))
	require.ErrorIs(t, s.Answer(ann.Word, 1, seen), journal.ErrNone)
	left, err := filepath.Glob(filepath.Join(dir, folderName, "*"))
	require.NoError(t, err)
	require.Len(t, left, 1)
	assert.Contains(t, left[0], ben.Word)
	for _, bad := range []string{"", "  ", "a\nb", string(make([]byte, 100))} {
		assert.NotEmpty(t, GoodName(bad), bad)
	}
	assert.Empty(t, GoodName("M-07"))
}
