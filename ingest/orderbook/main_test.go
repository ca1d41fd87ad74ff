package orderbook

import (
	"os"
	"testing"
)

// The test binary is its own child for SQL that a person wrote, and for loads
// that are killed.
func TestMain(m *testing.M) {
	ChildMain()
	crashMain()
	os.Exit(m.Run())
}
