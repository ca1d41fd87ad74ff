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

func TestNames(t *testing.T) {
	orders := []string{"W00012", "W00021", "W00120", "W01234"}
	require.Equal(t, []string{"W00012", "W00021", "W00120"}, Names("w00022", orders, 3))
	require.Equal(t, []string{"W00012"}, Names("w00012", orders, 1), "the nearest first")
	require.Empty(t, Names("F", orders, 3))
	require.Empty(t, Names("", nil, 3))
}
