package orderbook

import (
	"context"
	"database/sql"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/engine"
	"lastroom/ingest/testdata/books"

	"github.com/stretchr/testify/require"
)

// Every view is explained under its own name.
func TestViewsAreExplained(t *testing.T) {
	r := threeOrders(t)
	views := Views()
	require.Greater(t, len(views), 10)
	for _, v := range views {
		require.NotEmpty(t, v.About, v.Name)
		require.NoError(t, r.each(context.Background(), "SELECT * FROM "+engine.QuoteName(v.Name)+" LIMIT 0", nil, nil))
	}
}

// A view is made when a question first names it, with those it rests on and no other;
// several questions at once make each once: four, with CI=true each of them twice.
func TestViewsAreMadeWhenTheyAreNamed(t *testing.T) {
	ctx := context.Background()
	r := readerAt(t, handmade(t, books.Fixture(t, "three_orders")), "2026-06-01")
	made := func() (names []string) {
		require.NoError(t, r.each(ctx, "SELECT view_name FROM duckdb_views() WHERE NOT internal", nil, func(rows *sql.Rows) error {
			var name string
			err := rows.Scan(&name)
			if !strings.HasPrefix(name, "measurements") { // the book's own
				names = append(names, name)
			}
			return err
		}))
		slices.Sort(names)
		return names
	}
	require.Empty(t, made())
	require.NoError(t, r.each(ctx, "-- not of cohort\nSELECT fault, 'report' FROM form_fault", nil, func(*sql.Rows) error { return nil }))
	require.Equal(t, []string{"form", "form_fault", "known_order", "report", "shop"}, made(), "a word in quotes may be a name")

	errs := make(chan error)
	askers := breadth.Few(4, 8)
	for i := range askers {
		go func() {
			name := []string{"cohort", "left_out", "number", "form"}[i%4]
			errs <- r.each(ctx, "SELECT * FROM "+name+" LIMIT 1", nil, func(*sql.Rows) error { return nil })
		}()
	}
	for range askers {
		require.NoError(t, <-errs)
	}
	require.Subset(t, made(), []string{"cohort", "cut_form", "first_form", "follow_up", "left_out", "number"})
	require.NotContains(t, made(), "missing_number")
}

// A fault is added in one place, the catalogue of package form: with a column of its
// own in the view form, every other view has it.
func TestAFaultIsAddedInOnePlace(t *testing.T) {
	one := form.Fault{ID: "irregular", Kind: form.Noted, AtRisk: form.WithOrthotic}
	conn, err := handmade(t, books.Fixture(t, "three_orders")).Conn(context.Background())
	require.NoError(t, err)
	defer conn.Close()
	run := func(q string) {
		_, err := conn.ExecContext(context.Background(), q)
		require.NoError(t, err, q)
	}
	run(setAsOf(day(t, "2026-06-01")))
	for _, v := range viewsOf(append(slices.Clone(form.Faults), one)) {
		if v.Name == "form" { // what it means is written where the other faults are
			v.text = strings.Replace(v.text, "AS orthotic_undiscussed\n", "AS orthotic_undiscussed, irregularities IS NULL AS irregular\n", 1)
		}
		run(v.text)
	}
	got, err := engine.Texts(context.Background(), conn, "SELECT form_id, state FROM form_fault WHERE fault = 'irregular' ORDER BY form_id")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"A1", "with"}, {"B1", "not at risk"}, {"B2", "not at risk"}, {"C1", "not at risk"}}, got)
	got, err = engine.Texts(context.Background(), conn, "SELECT order_id, irregular::VARCHAR FROM cohort WHERE cut_form_id = 'A1'")
	require.NoError(t, err)
	require.Equal(t, [][]string{{"A", "true"}}, got)
}

// The states of a form's faults are one integer of 64 bits, two a fault, in the view
// form and from there on: the book has room for 31 of them.
func TestRoomForFaults(t *testing.T) {
	require.LessOrEqual(t, len(form.Faults), 31, "fault_states of the view form must become wider first")
	many := slices.Clone(form.Faults)
	for len(many) < 31 {
		many = append(many, form.Faults[0])
	}
	states := func(list []form.Fault) (out []int64) {
		conn, err := handmade(t, books.Fixture(t, "three_orders")).Conn(context.Background())
		require.NoError(t, err)
		defer conn.Close()
		_, err = conn.ExecContext(context.Background(), setAsOf(day(t, "2026-06-01")))
		require.NoError(t, err)
		for _, v := range viewsOf(list) {
			_, err := conn.ExecContext(context.Background(), v.text)
			require.NoError(t, err, v.Name)
		}
		got, err := engine.Texts(context.Background(), conn, "SELECT fault_states::VARCHAR FROM form ORDER BY form_id")
		require.NoError(t, err)
		for _, g := range got {
			n, err := strconv.ParseInt(g[0], 10, 64)
			require.NoError(t, err)
			out = append(out, n)
		}
		return out
	}
	few, all := states(form.Faults), states(many)
	for i, n := range all {
		require.Equal(t, few[i], n&(1<<(2*len(form.Faults))-1))
		for k := len(form.Faults); k < 31; k++ { // each is the first fault again
			require.Equal(t, few[i]&3, n>>(2*k)&3)
		}
	}
}

// Points have the numbers that the book's enums, and the bits of form_numbers, give
// them.
func TestPointsOfTheBook(t *testing.T) {
	conn, err := handmade(t).Conn(context.Background())
	require.NoError(t, err)
	defer conn.Close()
	for kind, want := range map[string][]string{"side_t": form.Texts(form.Sides), "clothing_t": form.Texts(form.Clothings),
		"point_t": form.Texts(form.Points), "unit_t": form.Texts(form.Units)} {
		got, err := engine.Texts(context.Background(), conn, "SELECT unnest(enum_range(NULL::"+kind+"))::VARCHAR")
		require.NoError(t, err)
		for i, w := range want {
			require.Equal(t, w, got[i][0], kind)
		}
		require.Len(t, got, len(want), kind)
	}
}
