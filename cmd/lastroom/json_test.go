package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
)

// The fields that other programs rely on: names in a document, below each of
// its list's entries, and which of those are estimates.
var documents = []struct {
	args      []string
	top       []string
	list      string
	entry     []string
	estimates []string
}{
	{
		[]string{"faults"},
		[]string{"as_of", "mature_orders", "faults"}, "faults",
		[]string{"fault", "at_risk", "with_fault", "unknown", "remade_with", "remade_without", "q_value", "zone_check", "levels"},
		[]string{"rate_with", "rate_without", "risk_ratio", "risk_difference", "stratified_odds_ratio",
			"adjusted_risk_difference", "adjusted_risk_ratio", "attributable_remakes"},
	},
	{
		[]string{"rules"},
		[]string{"as_of", "first_forms", "rules"}, "rules",
		[]string{"rule", "held", "remakes_caught", "since"},
		[]string{"held_share", "sensitivity", "rate_held", "rate_not_held", "callbacks_per_remake_caught", "avoidable_per_100", "net_per_100", "kept_promise"},
	},
	{
		[]string{"measurers"},
		[]string{"as_of", "measurers"}, "measurers",
		[]string{"measurer", "faults", "signs", "habits", "trend"},
		[]string{"expected", "share", "ratio", "faults_per_form"},
	},
	{
		[]string{"measurers", "--repeats"},
		[]string{"points", "components", "habits"}, "points",
		[]string{"point", "height", "n"},
		[]string{"tem_mm", "relative_tem", "reliability", "icc", "bias_mm", "kept_mm"},
	},
	{
		[]string{"risk"},
		[]string{"as_of", "model", "validation", "orders"}, "orders",
		[]string{"order_id", "stage", "reasons"},
		[]string{"risk", "if_mended"},
	},
}

func TestDocumentsHoldTheNamedFields(t *testing.T) {
	t.Parallel()
	dir, err := demoDir()
	require.NoError(t, err)
	for _, d := range documents {
		args := append(d.args, "--format", "json", "--book", filepath.Join(dir, "demo", "shop.duckdb"))
		doc := object(t, output(t, args))
		for _, k := range d.top {
			require.Contains(t, doc, k, d.args)
		}
		list := doc[d.list].([]any)
		if d.list == "measurers" && !breadth.Wide() { // of few orders nobody has enough to be compared
			list = doc["newcomers"].([]any)
		}
		require.NotEmpty(t, list, d.args)
		for _, x := range list {
			entry := x.(map[string]any)
			for _, k := range d.entry {
				require.Contains(t, entry, k, d.args)
			}
			for _, k := range d.estimates {
				requireEstimate(t, k, entry[k])
			}
		}
	}
}

// An estimate has all its parts; one that can't be given has none of the three
// numbers and says what is missing.
func requireEstimate(t *testing.T, name string, v any) {
	t.Helper()
	e, ok := v.(map[string]any)
	require.True(t, ok, "%s is no estimate: %v", name, v)
	for _, k := range []string{"point", "low", "high", "level", "n", "method", "warnings"} {
		require.Contains(t, e, k, name)
	}
	require.IsType(t, []any{}, e["warnings"], name)
	if e["point"] == nil {
		require.Nil(t, e["low"], name)
		require.Nil(t, e["high"], name)
		require.NotEmpty(t, e["warnings"], name)
	}
}

func TestLoadDocument(t *testing.T) {
	t.Parallel()
	dir, err := demoDir()
	require.NoError(t, err)
	text, err := os.ReadFile(filepath.Join(dir, "few.json"))
	require.NoError(t, err)
	doc := object(t, string(text))
	require.Contains(t, doc, "kept_out")
	list := doc["sheets"].([]any)
	require.Len(t, list, 8)
	for _, x := range list {
		for _, k := range []string{"sheet", "file", "read", "taken", "unchanged", "superseded", "kept_out"} {
			require.Contains(t, x, k)
		}
	}
}

func object(t *testing.T, text string) map[string]any {
	t.Helper()
	var m map[string]any
	require.NoError(t, json.Unmarshal([]byte(text), &m))
	return m
}
