package sandbox

import (
	"os"
	"testing"
)

// The test binary is its own child for SQL that a person wrote.
func TestMain(m *testing.M) {
	Main()
	os.Exit(m.Run())
}
