//go:build linux && amd64

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"lastroom/analysis/testdata/breadth"
)

// alwaysFilled are the commands that meet a full disk without -campaign,
// and the first of them where a run is not wide: what the service writes is written by the
// same packages.
var alwaysFilled = []string{"later load", "decision"}

// Every command that writes meets a disk with so little room left, a small one of its
// own in memory: it says so in words, with status 4, or has no need of more; the book
// is as before or after; and with room again the same command does what was left.
// -campaign does so with all commands and five sizes.
func TestFullDiskForEachCommand(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program many times")
	}
	t.Parallel()
	disk := t.TempDir()
	if err := unix.Mount("tmpfs", disk, "tmpfs", 0, "size=64m,mode=700"); err != nil {
		t.Skip("a small disk can't be made here: ", err)
	}
	t.Cleanup(func() { require.NoError(t, unix.Unmount(disk, 0)) })
	rooms := []int{0, 4, 64, 512, 4096}
	if !breadth.Campaign() {
		rooms = []int{64}
	}
	always := alwaysFilled
	if !breadth.Wide() {
		always = always[:1]
	}
	var table []string
	for _, c := range changers {
		if !strings.Contains(c.name, *killsPart) || *killsPart == "" && !breadth.Campaign() && !slices.Contains(always, c.name) {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			k := killingOf(t, c)
			refused := 0
			for _, kilobytes := range rooms {
				on := filepath.Join(disk, "home")
				require.NoError(t, copyAsItWas(k.home, on))
				fill(t, disk, kilobytes)
				said, status := k.onFullDisk(t, on)
				require.NotContains(t, said, "goroutine ", "%d kB", kilobytes)
				done := status == 0 || status == k.status
				if !done {
					refused++
					require.Contains(t, []int{3, 4}, status, "%d kB: %s", kilobytes, said)
					if strings.Contains(strings.ToLower(said), "no space left on device") { // the system's words
						require.Regexp(t, "(?i)the disk is full; make room", said, "%d kB", kilobytes)
						require.Equal(t, 4, status, "%d kB: %s", kilobytes, said)
					} else {
						require.Regexp(t, "(?i)is full|could not be|can't be", said, "%d kB", kilobytes)
					}
				}
				require.NoError(t, os.Remove(filepath.Join(disk, "filler")))
				if _, err := os.Stat(filepath.Join(on, k.book)); err == nil {
					require.Contains(t, k.sums(t, true, false), k.sum(t, on), "%d kB", kilobytes)
				}
				longAgo(t, on)
				if !done { // some find what they wrote there already
					k.once(t, on)
				}
				require.Contains(t, k.sums(t, false, false), k.sum(t, on), "%d kB", kilobytes)
				require.NoError(t, os.RemoveAll(on))
			}
			table = append(table, fmt.Sprintf("| %s | %d | %d |", c.name, len(rooms), refused))
		})
	}
	t.Logf("| command | full disks | refused |\n|---|---:|---:|\n%s", strings.Join(table, "\n"))
}

// fill takes all of a disk but so many kilobytes.
func fill(t *testing.T, disk string, kilobytes int) {
	t.Helper()
	var s unix.Statfs_t
	require.NoError(t, unix.Statfs(disk, &s))
	room := int64(s.Bavail)*s.Bsize - int64(kilobytes)<<10
	require.Positive(t, room)
	f, err := os.Create(filepath.Join(disk, "filler"))
	require.NoError(t, err)
	require.NoError(t, unix.Fallocate(int(f.Fd()), 0, 0, room))
	require.NoError(t, f.Close())
}

// onFullDisk does the command, or asks the service, and gives what came of it.
func (k *killing) onFullDisk(t *testing.T, home string) (said string, status int) {
	t.Helper()
	if k.asks == nil {
		out, errs, status := k.program(home, k.args)
		return out + errs, status
	}
	text, err := k.served(t, home)
	if err != nil {
		return text + err.Error(), 4
	}
	return text, 0
}
