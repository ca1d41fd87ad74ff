package sessions

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/session"
	"lastroom/notebooks/journal"
)

func TestASessionFromPlanToBook(t *testing.T) {
	root, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	defer root.Close()
	s := NewStore(root, time.Now)
	p := session.Plan{ID: "S1", Day: "2026-11-26", Instructor: "boss", Measurers: []string{"Ann", "Ben"}, Subjects: []string{"A", "B"}, Trials: 2, Spots: []session.Spot{{Point: form.Ball}}, Unit: form.Inch}
	word, err := s.Begin(p)
	require.NoError(t, err)
	one, err := s.Find(word)
	require.NoError(t, err)
	assert.Equal(t, p, one.Plan)
	assert.Equal(t, 1, one.Person(one.Doors[1]))
	assert.Equal(t, -1, one.Person("x"))
	e := session.Entry{Person: 1, Subject: 0, Trial: 1, Readings: []session.Reading{{Side: form.Right, Spot: 0, Written: "9", ValueMM: 228.6}}}
	require.NoError(t, s.Write(word, e))
	e.Readings[0].Written = "9 1/8"
	require.NoError(t, s.Write(word, e))
	one, err = s.Find(word)
	require.NoError(t, err)
	assert.Equal(t, []session.Entry{e}, one.Entries, "written again, the last counts")
	done, all := one.Done()
	assert.Equal(t, []int{1, 12}, []int{done, all})
	done, all = one.DoneBy(1)
	assert.Equal(t, []int{1, 4}, []int{done, all})
	assert.False(t, one.Closed)
	require.NoError(t, s.Close(word))
	require.ErrorIs(t, s.Write(word, e), ErrClosed)
	require.ErrorIs(t, s.Close(word), ErrClosed)
	require.NoError(t, s.Saved(word))
	list, err := s.All()
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.True(t, list[0].Closed && list[0].Saved)
	require.NoError(t, s.Remove(word))
	_, err = s.Find(word)
	require.ErrorIs(t, err, journal.ErrNone)
}

func TestAnEntryThatIsNotInThePlanIsDamage(t *testing.T) {
	root, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	defer root.Close()
	s := NewStore(root, time.Now)
	p := session.Plan{ID: "S1", Instructor: "boss", Measurers: []string{"Ann"}, Subjects: []string{"A"}, Trials: 1, Spots: []session.Spot{{Point: form.Ball}}, Unit: form.Inch}
	for _, e := range []session.Entry{{Person: 5}, {Subject: 3}, {Person: -1}, {Readings: []session.Reading{{Spot: 4}}}} {
		word, err := s.Begin(p)
		require.NoError(t, err)
		require.NoError(t, s.Write(word, e))
		_, err = s.Find(word)
		require.ErrorContains(t, err, "not in the plan")
	}
	word, err := s.Begin(session.Plan{})
	require.NoError(t, err)
	_, err = s.Find(word)
	require.ErrorContains(t, err, "no plan")
}
