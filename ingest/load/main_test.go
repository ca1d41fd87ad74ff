package load

import (
	"os"
	"testing"
)

// The test binary is its own child for loads that are killed.
func TestMain(m *testing.M) {
	crashMain()
	os.Exit(m.Run())
}
