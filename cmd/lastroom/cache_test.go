package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// Each finding is kept beside the book, read back the second time, and the
// same to the byte; another question is another entry. What rests on the book alone
// outlasts a change of the rules, a scorecard does not. With CI=true of more commands.
func TestFindingsAreKept(t *testing.T) {
	t.Parallel()
	work := ownDemo(t)
	book, kept := filepath.Join(work, "shop.duckdb"), filepath.Join(work, "shop.files", "cache")
	require.NoError(t, os.RemoveAll(kept))
	entries := 0
	asked := []string{"faults --quick", "rules --quick", "trend --quick", "faults --quick --mature-days 90", "rules --quick --cost-callback 3 --mature-days 90"}
	if !breadth.Wide() {
		asked = asked[:3]
	}
	for _, args := range asked {
		args := append(strings.Fields(args), "--format", "json", "--book", book)
		fresh := output(t, args)
		list, err := os.ReadDir(kept)
		require.NoError(t, err)
		require.Greater(t, len(list), entries, "%v left nothing", args)
		entries = len(list)
		require.Equal(t, fresh, output(t, args))
		list, err = os.ReadDir(kept)
		require.NoError(t, err)
		require.Len(t, list, entries, "%v was computed again", args)
	}
	require.NoError(t, os.WriteFile(filepath.Join(work, "shop.files", "rules.yaml"), []byte("- id: tall\n  title: tall boots\n  why: more heights\n  when: shaft_height_in >= 14\n"), 0o600))
	for _, args := range []string{"rules --quick", "faults --quick", "trend --quick"} {
		output(t, append(strings.Fields(args), "--format", "json", "--book", book))
		list, err := os.ReadDir(kept)
		require.NoError(t, err)
		if strings.HasPrefix(args, "rules") {
			require.Greater(t, len(list), entries)
			entries = len(list)
		}
		require.Len(t, list, entries, "%v was computed again", args)
	}
}

func output(t *testing.T, args []string) string {
	t.Helper()
	var out, errs bytes.Buffer
	require.Zero(t, run(t.Context(), strings.NewReader(""), &out, &errs, args), errs.String())
	return out.String()
}
