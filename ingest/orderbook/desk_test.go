package orderbook

import (
	"context"
	"fmt"
	"testing"

	"lastroom/analysis/form"
	"lastroom/analysis/rules"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/testdata/books"

	"github.com/stretchr/testify/require"
)

func missingOf(t *testing.T, r *Reader, id string) (out []string) {
	t.Helper()
	forms, err := r.DeskForms(context.Background(), "form_id = ?", id)
	require.NoError(t, err)
	for _, f := range forms {
		for _, p := range f.Missing {
			require.Equal(t, form.Bare, p.Clothing)
			s := p.Side.String() + " " + p.Point.String()
			if p.HeightMM > 0 {
				s += fmt.Sprintf(" %.1f", p.HeightMM)
			}
			out = append(out, s)
		}
	}
	return out
}

// With CI=true by a shop's own heights, too, and with no ankle: of these a
// load's TestCorrectedRowsSupersede says every day that they are kept and counted by.
func TestMissingNumbers(t *testing.T) {
	r := threeOrdersNumbers(t)
	// 13 in are 330.2 mm, 7 in 177.8 mm.
	require.Equal(t, []string{"right leg 330.2"}, missingOf(t, r, "A1"))
	require.Equal(t, []string{"left ankle"}, missingOf(t, r, "B2"))
	require.Empty(t, missingOf(t, r, "C1"))
	// B1 was not keyed: everything is missing.
	require.Equal(t, []string{"left ball", "right ball", "left instep", "right instep", "left heel", "right heel", "left ankle", "right ankle",
		"left leg 177.8", "right leg 177.8"}, missingOf(t, r, "B1"))
	require.Empty(t, missingOf(t, r, "nobody"))

	if !breadth.Wide() {
		return
	}
	r = readerAt(t, handmade(t, books.Fixture(t, "three_orders"), "INSERT INTO settings VALUES ('ankle_girth', 'none'), ('first_leg_height_mm', '150'), ('leg_step_mm', '100')"), "2026-06-01")
	require.Equal(t, []string{"left ball", "right ball", "left instep", "right instep", "left heel", "right heel", "left leg 150.0", "right leg 150.0"}, missingOf(t, r, "B1"))
	require.Empty(t, missingOf(t, r, "B2"))
}

func TestFormsOfACustomer(t *testing.T) {
	ctx := context.Background()
	r := threeOrders(t)
	ids := func(list []DeskForm, err error) (out []string) {
		t.Helper()
		require.NoError(t, err)
		for _, f := range list {
			out = append(out, f.ID)
		}
		return out
	}
	require.Equal(t, []string{"C1", "A1", "B1", "B2"}, ids(r.DeskForms(ctx, "")))
	require.Equal(t, []string{"B2"}, ids(r.EarlierCutForms(ctx, []string{"p2"}, nil)))
	require.Equal(t, []string{"B2"}, ids(r.EarlierCutForms(ctx, nil, []string{"B"})))
	require.Empty(t, ids(r.EarlierCutForms(ctx, []string{"nobody"}, []string{"A"})), "A was remade")
}

// A rule holds the same forms whichever are asked about.
func TestHoldForms(t *testing.T) {
	ctx := context.Background()
	r := threeOrders(t)
	list := []rules.Rule{{ID: "second", When: "form_no = 2"}, {ID: "all", When: "true"}}
	forms, err := r.DeskForms(ctx, "")
	require.NoError(t, err)
	held, err := r.HoldForms(ctx, list, forms)
	require.NoError(t, err)
	require.Equal(t, []map[string]bool{{"B2": true}, {"A1": true, "B1": true, "B2": true, "C1": true}}, held)
	held, err = r.HoldForms(ctx, list, forms[3:])
	require.NoError(t, err)
	require.Equal(t, []map[string]bool{{"B2": true}, {"B2": true}}, held, "the others are not worked out")
	many := make([]DeskForm, fewForms+1)
	held, err = r.HoldForms(ctx, list, many)
	require.NoError(t, err)
	require.Len(t, held[1], 4, "of more than few all are worked out")
	held, err = r.HoldForms(ctx, list, nil)
	require.NoError(t, err)
	require.Empty(t, held)
}
