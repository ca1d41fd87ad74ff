package apart

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/ingest/load"
)

// A child of these tests does what its book's name says.
func TestMain(m *testing.M) {
	Main(func(ctx context.Context, job Job, say func(string, int, int)) (*load.Report, error) {
		say("reading", 1, 3)
		switch job.Book {
		case "wrong":
			return &load.Report{Notes: job.Paths}, errors.New("these are no sheets")
		case "panics":
			panic("the engine failed")
		case "dies":
			p, err := os.FindProcess(os.Getpid())
			if err == nil {
				err = p.Kill()
			}
			<-ctx.Done()
			return nil, err
		case "waits":
			<-ctx.Done()
			return nil, ctx.Err()
		}
		return &load.Report{Load: 7, Notes: append(job.Paths, job.Map, job.Rejects, job.Now.String())}, nil
	}, func(err error) (int, string) { return 3, "in words: " + err.Error() })
	os.Exit(m.Run())
}

func TestLoad(t *testing.T) {
	var steps []string
	say := func(step string, done, total int) {
		steps = append(steps, step)
		require.Equal(t, []int{1, 3}, []int{done, total})
	}
	now := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	report, err := Load(t.Context(), Job{Book: "b", Now: now, Paths: []string{"p"}, Map: "m", Rejects: "r"}, say)
	require.NoError(t, err)
	require.Equal(t, &load.Report{Load: 7, Notes: []string{"p", "m", "r", now.String()}}, report)
	require.Equal(t, []string{"reading"}, steps)

	report, err = Load(t.Context(), Job{Book: "wrong", Paths: []string{"p"}}, say)
	require.Equal(t, &Failed{3, "in words: these are no sheets"}, err)
	require.Equal(t, []string{"p"}, report.Notes)
}

// Whatever ends the child, the program that waits for it is told and goes on.
func TestChildThatDies(t *testing.T) {
	for book, why := range map[string]string{"panics": "the engine failed", "dies": "killed"} {
		_, err := Load(t.Context(), Job{Book: book}, func(string, int, int) {})
		require.ErrorContains(t, err, "the book is as it was", book)
		require.ErrorContains(t, err, why, book)
	}
}

// A load that nobody waits for any more ends.
func TestStopped(t *testing.T) {
	ctx, stop := context.WithCancelCause(t.Context())
	why := errors.New("stopped on request")
	begun := time.Now()
	_, err := Load(ctx, Job{Book: "waits"}, func(string, int, int) { stop(why) })
	require.ErrorIs(t, err, why)
	require.Less(t, time.Since(begun), killGrace)
}
