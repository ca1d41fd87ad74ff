// Package breadth tells how much a run of the tests does. Everyday runs, for each commit, hold
// every promise to a small case; wide ones, with CI=true, to all cases; campaigns, with the
// flag -campaign, try everything that can be listed, for as long as it takes.
package breadth

import (
	"flag"
	"os"
	"testing"
)

var campaign = flag.Bool("campaign", false, "try all that can be tried: every step, place, page and file, not some of each")

// Campaign is whether a run is the widest.
func Campaign() bool { return *campaign }

// Wide is whether a run checks all that there is to check, and not only what a person
// waits for before each commit.
func Wide() bool { return *campaign || os.Getenv("CI") == "true" }

// Few is how much a test does of something when no flag says how much: enough to see
// what is broken, in a wide run more.
func Few(everyday, wide int) int {
	if Wide() {
		return wide
	}
	return everyday
}

// Leave skips, in an everyday run, a test whose promise another one holds there too;
// held names it.
func Leave(t testing.TB, held string) {
	t.Helper()
	if !Wide() {
		t.Skipf("with CI=true; every day %s", held)
	}
}
