package layout_test

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/layout"
	"lastroom/ingest/layout/testdata/readback"
)

// Every order, form, number and report of six shops is read through a mapping
// made by hand: none missing, none invented, none on another side. Two shops, a workbook
// and texts; with CI=true all six.
func TestSixShops(t *testing.T) {
	for _, shop := range readback.ShopNames {
		if shop != "shop-c" && shop != "shop-e" && !breadth.Wide() {
			continue
		}
		t.Run(shop, func(t *testing.T) {
			m, err := layout.Read("../../testdata/layouts/" + shop + ".yaml")
			require.NoError(t, err)
			lines := strings.Count(string(m.Text), "\n")
			assert.LessOrEqual(t, lines, 60, "lines of the mapping")
			files := readback.Files(t, readback.Shop(t, shop))
			c, err := m.Convert(context.Background(), files, t.TempDir())
			require.NoError(t, err)
			rows, problems := readback.Parts(t, c.Parts)
			for _, n := range c.Notes {
				t.Log(n)
			}
			for _, p := range c.Parts {
				if len(p.Unused) > 0 {
					t.Log(p.Table.Name, p.Table.Tab, "not used:", p.Unused)
				}
			}
			assert.Empty(t, c.Rejects)
			assert.Empty(t, readback.Some(problems))
			assert.Empty(t, readback.Some(readback.Differences(rows, readback.Truth(t, shop))))
		})
	}
}
