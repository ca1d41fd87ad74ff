package orderbook

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/analysis/testdata/breadth"
)

func TestHoldFirstForms(t *testing.T) {
	r := threeOrders(t)
	ctx := context.Background()
	list := []rules.Rule{
		{ID: "marks", When: "tape_marks_missing"},
		{ID: "tall", When: "shaft_height_in >= 15 -- the tall ones"},
		{ID: "home", When: "channel IN ('home', 'dealer') AND NOT (measurer_id LIKE 'm2%') AND channel NOT LIKE '!_' ESCAPE '!'"},
		{ID: "never", When: "false"},
		{ID: "day", When: "received_on >= DATE '2026-01-03' AND year(received_on) = 2026"},
		{ID: "cased", When: "CASE WHEN keyed THEN heights_missing > 0 ELSE true END"},
	}
	_, got, err := r.HoldFirstForms(ctx, list)
	require.NoError(t, err)
	// rows: C, A, B, F; first forms C1, A1, B1, none
	const u, no, yes, none = form.Unknown, form.Without, form.With, form.NotAtRisk
	want := [][]form.State{{yes, no, u, none}, {u, yes, no, none}, {no, yes, no, none}, {no, no, no, none}, {no, no, yes, none}, {u, yes, yes, none}}
	for i := range list {
		require.Equal(t, list[i], got[i].Rule)
		require.Equal(t, want[i], got[i].Held, list[i].ID)
	}
}

// More rules than one integer carries.
func TestHoldManyRules(t *testing.T) {
	r := threeOrders(t)
	ctx := context.Background()
	var list []rules.Rule
	for range 40 {
		list = append(list, rules.Rule{ID: "marks", When: "tape_marks_missing"}, rules.Rule{ID: "tall", When: "shaft_height_in >= 15"})
	}
	_, got, err := r.HoldFirstForms(ctx, list)
	require.NoError(t, err)
	for i := range list {
		require.Equal(t, got[i%2].Held, got[i].Held)
	}
}

func TestDefaultRulesAreAccepted(t *testing.T) {
	r := threeOrders(t)
	list := rules.Default()
	require.NotEmpty(t, list)
	require.NoError(t, r.checkRules(context.Background(), list))
}

// Conditions that name what is not there or not known yet, are no condition, ask
// another question or call what may not be called: one of each, with CI=true all.
func TestRefusedConditions(t *testing.T) {
	r := threeOrders(t)
	kinds := []string{"tape_mark_missing", "cut_from", "faults", "(SELECT true)", "read_text('/etc/passwd') = ''", "true) FROM orders WHERE (true", "true); DROP TABLE orders; SELECT (true", ""}
	for when, says := range map[string]string{
		"tape_mark_missing":                       `did you mean "tape_marks_missing"`,
		"form.tape_marks_missing":                 "there is no column",
		`channel = "home"`:                        `'home'`,
		"cut_from":                                "not known when a form arrives",
		"(SELECT true)":                           "another question",
		"EXISTS (FROM orders)":                    "another question",
		"faults":                                  "not yes or no",
		"count(*) > 1":                            "can't stand in a condition",
		"sum(faults) OVER () > 1":                 "can't stand in a condition",
		"read_text('/etc/passwd') = ''":           "can't stand in a condition",
		"getenv('HOME') = ''":                     "can't stand in a condition",
		"length(repeat('x', 1000000000)) > 1":     "repeat can't stand",
		"random() > 0.5":                          "can't stand in a condition",
		"received_on < current_date":              "there is no column",
		"received_on < today()":                   "can't stand in a condition",
		"nextval('x') > 1":                        "can't stand in a condition",
		"faults > 1), (true":                      "must be one expression",
		"true) FROM orders WHERE (true":           "must be one expression",
		"true) UNION SELECT (false":               "must be one expression",
		"true) ORDER BY (1":                       "must be one expression",
		"true) LIMIT (1":                          "must be one expression",
		"true); DROP TABLE orders; SELECT (true":  "can't be read",
		"faults > ?":                              "can't stand in a condition",
		"faults > $n":                             "can't stand in a condition",
		"COLUMNS(*)":                              "can't stand in a condition",
		"list_contains([x -> x], faults)":         "can't stand in a condition",
		"faults >":                                "something is missing at its end",
		"":                                        "can't be read",
		"main.read_text('x') = 'y'":               "can't stand in a condition",
		"faults = 1 COLLATE NOCASE":               "",
		"system.main.length(channel) > 1":         "can't stand in a condition",
		"length(channel) FILTER (WHERE true) > 1": "",
	} {
		if !slices.Contains(kinds, when) && !breadth.Wide() {
			continue
		}
		err := r.checkRules(context.Background(), []rules.Rule{{ID: "mine", When: when}})
		require.Error(t, err, when)
		require.ErrorContains(t, err, `rule "mine"`, when)
		require.ErrorContains(t, err, says, when)
	}
}

// A condition that fails on the data names its rule.
func TestConditionThatFails(t *testing.T) {
	r := threeOrders(t)
	_, _, err := r.HoldFirstForms(context.Background(), []rules.Rule{{ID: "good", When: "keyed"}, {ID: "bad", When: "CAST(channel AS INTEGER) > 1"}})
	require.ErrorContains(t, err, `rule "bad"`)
}
