//go:build unix

package sandbox

import (
	"bytes"
	"fmt"
	"os"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

// limitChild keeps this process from taking more than some bytes of address
// space beyond what it has now, from writing any file, from dumping its memory
// and from working on after so much time of a processor. It can't be undone.
func limitChild(space uint64, work time.Duration) error {
	for _, l := range []struct {
		what  int
		limit uint64
	}{
		{unix.RLIMIT_AS, spaceNow() + space},
		{unix.RLIMIT_FSIZE, 0},
		{unix.RLIMIT_CORE, 0},
		{unix.RLIMIT_CPU, uint64(work / time.Second)},
	} {
		if err := unix.Setrlimit(l.what, &unix.Rlimit{Cur: l.limit, Max: l.limit}); err != nil {
			return fmt.Errorf("can't limit the process that runs the SQL: %w", err)
		}
	}
	return nil
}

// spaceNow is the address space this process has taken, where the system says
// so, otherwise room enough for a Go program.
func spaceNow() uint64 {
	text, err := os.ReadFile("/proc/self/statm")
	if err == nil {
		first, _, _ := bytes.Cut(text, []byte(" "))
		if pages, err := strconv.ParseUint(string(first), 10, 64); err == nil {
			return pages * uint64(os.Getpagesize())
		}
	}
	return 2 << 30
}
