package rulesfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
)

func day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// All rules that come with the program are switched on and off again: what is left
// is the file as it was, comments and all.
func TestDaysComeAndGo(t *testing.T) {
	text := rules.DefaultYAML()
	for _, r := range rules.Default() {
		on, err := SetDays(text, r.ID, Days{day("2026-03-01"), cohort.NoDay})
		require.NoError(t, err, r.ID)
		assert.Equal(t, strings.Count(string(text), "\n")+1, strings.Count(string(on), "\n"))
		ended, err := SetDays(on, r.ID, Days{day("2026-03-01"), day("2026-08-31")})
		require.NoError(t, err)
		list, err := rules.Parse(ended)
		require.NoError(t, err)
		for _, x := range list {
			assert.Equal(t, x.ID == r.ID, x.InForceOn(day("2026-08-31")))
			assert.False(t, x.InForceOn(day("2026-09-01")))
		}
		off, err := SetDays(ended, r.ID, Days{cohort.NoDay, cohort.NoDay})
		require.NoError(t, err)
		assert.Equal(t, string(text), string(off), r.ID)
	}
}

const own = `# our rules
- id: tall     # since the fair
  title: Tall boots
  when: |
    shaft_height_in > 15
    AND channel = 'home'
  from: 2024-01-01

  # the next one is new
- id: "odd"
  when: "alarm_score >= 2"
  until: 2025-01-01
  from: 2024-06-01
`

func TestOwnFile(t *testing.T) {
	got, err := SetDays([]byte(own), "tall", Days{day("2024-01-01"), day("2024-12-31")})
	require.NoError(t, err)
	assert.Contains(t, string(got), "channel = 'home'\n  from: 2024-01-01\n  until: 2024-12-31\n\n  # the next one is new\n- id: \"odd\"")
	assert.Contains(t, string(got), "# since the fair")
	got, err = SetDays([]byte(own), "odd", Days{day("2026-01-01"), cohort.NoDay})
	require.NoError(t, err)
	assert.True(t, strings.HasSuffix(string(got), "when: \"alarm_score >= 2\"\n  from: 2026-01-01\n"), string(got))
	_, err = SetDays([]byte(own), "nobody", Days{})
	assert.ErrorContains(t, err, `no rule "nobody"`)
	for _, flow := range []string{`[{id: a, when: x}]`, "- from: 2024-01-01\n  id: a\n  when: x\n"} {
		_, err = SetDays([]byte(flow), "a", Days{day("2026-01-01"), cohort.NoDay})
		assert.ErrorIs(t, err, errByHand, flow)
	}
	_, err = SetDays([]byte(own), "tall", Days{day("2024-01-02"), day("2024-01-01")})
	assert.ErrorContains(t, err, "ends")
}

func TestAdd(t *testing.T) {
	r := rules.Rule{ID: "mine", Title: `"Quoted": 'it' # <b>`, Why: "a\nb", When: "sock = 'th\\ick'\n  OR TRUE", From: day("2026-02-03"), Until: cohort.NoDay}
	list, err := rules.Parse([]byte("- id: x\n  when: a OR b\n"))
	require.NoError(t, err)
	r.Mends = list[0].Mends // any rule but of one fault mends all
	got, err := Add([]byte(own), r)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(got), own))
	list, err = rules.Parse(got)
	require.NoError(t, err)
	assert.Equal(t, r, list[2])
	r.ID = "odd"
	_, err = Add([]byte(own), r)
	assert.ErrorContains(t, err, "stands twice")
	_, err = Add([]byte(`[{id: a, when: x}]`), r)
	assert.ErrorIs(t, err, errByHand)
}

func TestNewID(t *testing.T) {
	list := []rules.Rule{{ID: "tall-boots"}, {ID: "own-rule"}}
	assert.Equal(t, "tall-boots-2", NewID("Tall boots!", list))
	assert.Equal(t, "own-rule-2", NewID("ö!", list))
	assert.LessOrEqual(t, len(NewID(strings.Repeat("very long ", 30), nil)), mostID)
}

// No text makes it panic, and what it gives reads as meant.
func FuzzSetDays(f *testing.F) {
	f.Add([]byte(own), "tall")
	f.Add(rules.DefaultYAML(), "outline-broken")
	f.Fuzz(func(t *testing.T, text []byte, id string) {
		got, err := SetDays(text, id, Days{20000, 20100})
		if err != nil {
			return
		}
		list, err := rules.Parse(got)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range list {
			if r.ID == id && (r.From != 20000 || r.Until != 20100) {
				t.Fatal("not as meant")
			}
		}
	})
}
