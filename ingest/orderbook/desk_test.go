package orderbook

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
)

func missingOf(t *testing.T, r *Reader, form string) (out []string) {
	t.Helper()
	places, err := r.Missing(context.Background(), form)
	require.NoError(t, err)
	for _, p := range places {
		require.Equal(t, "bare", p.Clothing)
		s := p.Side + " " + p.Point
		if p.HeightMM != nil {
			s += fmt.Sprintf(" %.1f", *p.HeightMM)
		}
		out = append(out, s)
	}
	return out
}

func TestMissingNumbers(t *testing.T) {
	r := readerAt(t, handmade(t, threeOrders, someNumbers), "2026-06-01")
	// 13 in are 330.2 mm, 7 in 177.8 mm.
	require.Equal(t, []string{"right leg 330.2"}, missingOf(t, r, "A1"))
	require.Equal(t, []string{"left ankle"}, missingOf(t, r, "B2"))
	require.Empty(t, missingOf(t, r, "C1"))
	// B1 was not keyed: everything is missing.
	require.Equal(t, []string{"left ball", "right ball", "left instep", "right instep", "left heel", "right heel", "left ankle", "right ankle",
		"left leg 177.8", "right leg 177.8"}, missingOf(t, r, "B1"))
	require.Empty(t, missingOf(t, r, "nobody"))

	r = readerAt(t, handmade(t, threeOrders, "INSERT INTO settings VALUES ('ankle_girth', 'none'), ('first_leg_height_mm', '150'), ('leg_step_mm', '100')"), "2026-06-01")
	require.Equal(t, []string{"left ball", "right ball", "left instep", "right instep", "left heel", "right heel", "left leg 150.0", "right leg 150.0"}, missingOf(t, r, "B1"))
	require.Empty(t, missingOf(t, r, "B2"))
}

func TestFormsOfACustomer(t *testing.T) {
	ctx := context.Background()
	r := readerAt(t, handmade(t, threeOrders), "2026-06-01")
	ids, err := r.FormIDs(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"C1", "A1", "B1", "B2"}, ids)
	earlier, err := r.EarlierForms(ctx, "p2", day(t, "2026-02-01"))
	require.NoError(t, err)
	require.Equal(t, []EarlierForm{{"B2", day(t, "2026-01-09")}}, earlier)
	earlier, err = r.EarlierForms(ctx, "p2", day(t, "2026-01-09"))
	require.NoError(t, err)
	require.Empty(t, earlier)
	earlier, err = r.EarlierForms(ctx, "p1", cohort.NoDay)
	require.NoError(t, err)
	require.Equal(t, []EarlierForm{{"A1", day(t, "2026-01-02")}}, earlier)
}
