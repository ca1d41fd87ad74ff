package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every command line in the README names a command and flags that exist.
func TestReadmeCommandsExist(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	lines := regexp.MustCompile(`(?m)^    (?:\./)?lastroom (.+?)(?:\s+#.*)?$`).FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(lines), 5)
	for _, l := range lines {
		c, rest, err := (&app{}).root().Find(strings.Fields(l[1]))
		require.NoError(t, err, l[0])
		require.True(t, c.HasParent() || strings.HasPrefix(l[1], "-"), l[0])
		require.NoError(t, c.ParseFlags(rest), l[0])
	}
}

// Every command is named in the README.
func TestReadmeNamesEveryCommand(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	for _, c := range commands() {
		require.Contains(t, string(text), c.Name())
	}
}
