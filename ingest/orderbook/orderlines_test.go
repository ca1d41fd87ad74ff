package orderbook

import (
	"context"
	"testing"

	"lastroom/analysis/form"

	"github.com/stretchr/testify/require"
)

func TestOrderLines(t *testing.T) {
	ctx := context.Background()
	r := threeOrdersNumbers(t)
	lines, err := r.OrderLines(ctx, []string{"B", "nobody", "A"})
	require.NoError(t, err)
	require.Len(t, lines, 3)
	require.Equal(t, []string{"B", "nobody", "A"}, []string{lines[0].ID, lines[1].ID, lines[2].ID}, "in the order asked")
	require.False(t, lines[1].Known)
	for _, l := range []OrderLine{lines[0], lines[2]} {
		o, found, err := r.Order(ctx, l.ID)
		require.NoError(t, err)
		require.True(t, found)
		require.True(t, l.Known)
		require.Equal(t, o.Order.Get("shipped_on"), l.Shipped.String())
		require.Equal(t, o.Order.Get("channel"), l.Channel)
		for _, f := range o.Forms {
			if f.Facts.Get("cut_from") == "true" {
				require.Equal(t, f.Faults, l.Faults)
			}
		}
		require.Len(t, l.Faults, len(form.Faults))
	}
	require.Equal(t, "kept", lines[0].Reports)
}
