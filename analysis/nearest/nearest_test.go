package nearest

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestName(t *testing.T) {
	commands := []string{"demo", "load", "check", "faults", "rules", "review"}
	for word, want := range map[string]string{
		"laod": "load", "LOAD": "load", "fault": "faults", "rewiev": "review", "ruels": "rules", "zzzzzzzz": "", "": "",
	} {
		require.Equal(t, want, Name(word, commands), word)
	}
	require.Equal(t, "größe", Name("grösse", []string{"größe"}), "letters are counted, not bytes")
	require.Empty(t, Name("load", nil))
	require.Equal(t, "; did you mean load?", Hint("laod", commands))
	require.Empty(t, Hint("zzzzzzzz", commands))
}
