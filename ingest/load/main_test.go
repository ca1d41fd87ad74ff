package load

import (
	"flag"
	"os"
	"testing"
)

var campaign = flag.Bool("campaign", false, "kill a first and a second load at every step, not one of them")

// The test binary is its own child for loads that are killed.
func TestMain(m *testing.M) {
	crashMain()
	status := m.Run()
	if loadedSmall != "" {
		os.RemoveAll(loadedSmall)
	}
	os.Exit(status)
}
