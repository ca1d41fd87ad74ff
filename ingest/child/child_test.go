package child

import (
	"fmt"
	"io"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const variable = "LASTROOM_TEST_CHILD"

type errand struct{ Do, Word string }

// A child of these tests does what its errand says.
func TestMain(m *testing.M) {
	var job errand
	ended := make(chan struct{})
	isChild, err := Job(variable, &job, func() { close(ended) })
	switch {
	case !isChild:
		os.Exit(m.Run())
	case err != nil:
		os.Exit(3)
	case job.Do == "answer":
		fmt.Print(job.Word, os.Getenv("ROOM"), os.Getenv(variable))
	case job.Do == "wait":
		<-ended
		fmt.Print("ended")
	case job.Do == "crash":
		fmt.Fprint(os.Stderr, job.Word)
		os.Exit(2)
	}
	os.Exit(0)
}

func TestAnswer(t *testing.T) {
	c, err := Start(variable, []string{"ROOM=last"}, errand{"answer", "word"})
	require.NoError(t, err)
	said, err := io.ReadAll(c.Out)
	require.NoError(t, err)
	require.NoError(t, c.Wait())
	require.Equal(t, "wordlast", string(said), "with its environment, and unmarked")
	require.Positive(t, c.Used())
}

func TestEndsWithItsInput(t *testing.T) {
	c, err := Start(variable, nil, errand{Do: "wait"})
	require.NoError(t, err)
	time.AfterFunc(50*time.Millisecond, c.Stop)
	said, err := io.ReadAll(c.Out)
	require.NoError(t, err)
	require.Equal(t, "ended", string(said))
	require.NoError(t, c.Wait())
}

func TestCrash(t *testing.T) {
	c, err := Start(variable, nil, errand{"crash", "why " + strings.Repeat("x", 20_000)})
	require.NoError(t, err)
	_, err = io.ReadAll(c.Out)
	require.NoError(t, err)
	require.ErrorContains(t, c.Wait(), "exit status 2")
	require.True(t, c.Said() == "why "+strings.Repeat("x", 16<<10-4), "its start is kept")
}

func TestKilled(t *testing.T) {
	c, err := Start(variable, nil, errand{Do: "wait"})
	require.NoError(t, err)
	c.Kill()
	require.ErrorContains(t, c.Wait(), "killed")
}

// A job that is none is an error of the child's.
func TestNotAJob(t *testing.T) {
	c, err := Start(variable, nil, "no errand")
	require.NoError(t, err)
	require.ErrorContains(t, c.Wait(), "exit status 3")
}
