//go:build unix

package load

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// processorTime is what the process has used of the processors.
func processorTime(t testing.TB) time.Duration {
	var r unix.Rusage
	require.NoError(t, unix.Getrusage(unix.RUSAGE_SELF, &r))
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}
