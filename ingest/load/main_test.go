package load

import (
	"os"
	"testing"
)

// The test binary is its own child for loads that are killed.
func TestMain(m *testing.M) {
	crashMain()
	status := m.Run()
	if loadedSmall != "" {
		os.RemoveAll(loadedSmall)
	}
	os.Exit(status)
}
