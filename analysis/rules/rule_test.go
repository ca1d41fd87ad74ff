package rules

import (
	"strings"
	"testing"

	"lastroom/analysis/form"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDefaultHasOneRuleForEachFault(t *testing.T) {
	rules := Default()
	ids := map[string]Rule{}
	for _, r := range rules {
		ids[r.ID] = r
		assert.NotEmpty(t, r.Why, r.ID)
		assert.NotEmpty(t, r.Title, r.ID)
	}
	for _, f := range form.Faults {
		assert.Equal(t, strings.ReplaceAll(f.ID, "-", "_"), ids[f.ID].When, f.ID)
	}
	assert.Greater(t, len(rules), len(form.Faults), "and a few combinations")
}

func TestParse(t *testing.T) {
	rules, err := Parse([]byte("- id: a\n  when: faults >= 2\n  from: 2026-03-01\n"))
	require.NoError(t, err)
	assert.Equal(t, "2026-03-01", rules[0].From.String())
	assert.False(t, rules[0].Until.Known())

	for text, want := range map[string]string{
		"":                                   "holds no rule",
		"- id: a\n":                          "has no condition",
		"- when: x\n":                        "has no id",
		"- id: a\n  wen: x\n":                "wen",
		"- id: a\n  when: x\n  from: soon\n": "not a day",
		"- id: a\n  when: x\n- id: a\n  when: y\n":                      "stands twice",
		"- id: a\n  when: x\n  from: 2026-02-01\n  until: 2026-01-01\n": "before it starts",
		"id: a":   "list of rules",
		"- id: [": "can't be read",
	} {
		_, err := Parse([]byte(text))
		require.Error(t, err, text)
		assert.Contains(t, err.Error(), want, text)
	}
}

// What a call-back mends: its own fault, what is taken anew with it, a list, all.
func TestMends(t *testing.T) {
	rules := map[string]Rule{}
	for _, r := range Default() {
		rules[r.ID] = r
	}
	assert.Equal(t, []string{"tape-marks-missing"}, rules["tape-marks-missing"].Mends)
	assert.Equal(t, []string{"tape-zero-shown", "foot-girth-missing", "leg-height-missing", "tucked-set-skipped", "sides-copied", "unit-mixed", "value-implausible"}, rules["sides-copied"].Mends)
	assert.Len(t, rules["two-faults"].Mends, len(form.Faults))
	for text, want := range map[string][]string{
		"self-measured":                         {"self-measured"},
		"[outline-doubled, tape-marks-missing]": {"tape-marks-missing", "outline-doubled"},
	} {
		got, err := Parse([]byte("- id: a\n  when: faults >= 2\n  mends: " + text + "\n"))
		require.NoError(t, err)
		assert.Equal(t, want, got[0].Mends)
	}
	all, err := Parse([]byte("- id: a\n  when: self_measured\n  mends: all\n"))
	require.NoError(t, err)
	assert.Len(t, all[0].Mends, len(form.Faults))
	for _, text := range []string{"nonsense", "[all, self-measured]", "{a: 1}"} {
		_, err := Parse([]byte("- id: a\n  when: x\n  mends: " + text + "\n"))
		require.Error(t, err, text)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("- id: a\n  when: x\n"))
	f.Add(DefaultYAML())
	f.Add([]byte("&a [*a]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		rules, err := Parse(text)
		if err != nil && err.Error() == "" {
			t.Error("an error without words")
		}
		for _, r := range rules {
			if r.ID == "" || r.When == "" {
				t.Errorf("a rule without id or condition: %+v", r)
			}
		}
	})
}
