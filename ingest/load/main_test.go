package load

import (
	"flag"
	"os"
	"testing"

	"lastroom/analysis/testdata/breadth"
)

var campaign = flag.Bool("campaign", false, "kill a first and a second load at every step, not one of them")

// wide is whether a run checks more than one case of a kind: with CI=true, and in a campaign.
func wide() bool { return *campaign || breadth.Wide() }

// The test binary is its own child for loads that are killed.
func TestMain(m *testing.M) {
	crashMain()
	status := m.Run()
	if loadedSmall != "" {
		os.RemoveAll(loadedSmall)
	}
	os.Exit(status)
}
