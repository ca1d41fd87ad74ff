package access

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Wrong tokens lock out the address they come from, and nobody else; each
// further one doubles the wait.
func TestWrongTokensCountPerAddress(t *testing.T) {
	var ss Sessions
	now := time.Date(2026, 10, 1, 8, 0, 0, 0, time.UTC)
	right := []Token{{"Ann", Reader, "a-secret-of-twenty-letters"}}
	for range MostWrong {
		_, err := ss.Enter(right, "wrong", "192.0.2.1", now)
		require.NotErrorIs(t, err, ErrTooManyWrong)
	}
	_, err := ss.Enter(right, right[0].Secret, "192.0.2.1", now)
	require.ErrorIs(t, err, ErrTooManyWrong)
	_, err = ss.Enter(right, right[0].Secret, "192.0.2.2", now)
	require.NoError(t, err)
	now = now.Add(time.Minute)
	_, err = ss.Enter(right, "wrong", "192.0.2.1", now)
	require.NotErrorIs(t, err, ErrTooManyWrong)
	_, err = ss.Enter(right, "wrong", "192.0.2.1", now.Add(90*time.Second))
	require.ErrorIs(t, err, ErrTooManyWrong)
	_, err = ss.Enter(right, right[0].Secret, "192.0.2.1", now.Add(2*time.Minute))
	require.NoError(t, err)
}

func TestReadTokens(t *testing.T) {
	for text, want := range map[string]string{
		"\nAnn boss aaaaaaaaaaaaaaaaaaaa": "line 2: write NAME ROLE SECRET", "# none\n\n": "there is no token", "Ann reader": "NAME ROLE SECRET", "Ann nobody aaaaaaaaaaaaaaaaaaaa": "line 1",
	} {
		_, err := ReadTokens(text)
		assert.ErrorContains(t, err, want)
	}
	got, err := ReadTokens("# the shop\nAnn reader aaaaaaaaaaaaaaaaaaaa\n\nBen editor bbbbbbbbbbbbbbbbbbbb\n")
	require.NoError(t, err)
	assert.Equal(t, []Token{{"Ann", Reader, "aaaaaaaaaaaaaaaaaaaa"}, {"Ben", Editor, "bbbbbbbbbbbbbbbbbbbb"}}, got)
}
