package instructions

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

// cellOf sums up the faults of single forms.
func cellOf(version, channel string, faults ...int) Cell {
	c := Cell{Version: version, Channel: channel, Forms: len(faults)}
	for _, f := range faults {
		c.Sum, c.Square = c.Sum+f, c.Square+f*f
	}
	return c
}

func repeat(n int, of ...int) (out []int) {
	for range n {
		out = append(out, of...)
	}
	return out
}

// B is used at home, where forms have more faults, and A in the shop: crude, B looks worse;
// within channels it has half a fault fewer. By hand: shop 30 forms of A with 0.5, 10 of B
// with 0; home 10 of A with 2.5, 30 of B with 2; weights 7.5 both.
func TestWithinChannels(t *testing.T) {
	d := Compare([]Cell{
		cellOf("B", "shop", repeat(10, 0)...), cellOf("A", "shop", repeat(15, 0, 1)...),
		cellOf("A", "home", repeat(5, 2, 3)...), cellOf("B", "home", repeat(15, 1, 3)...),
	})
	require.Len(t, d, 2)
	assert.Equal(t, "A", d[0].Version)
	assert.Greater(t, d[1].PerForm.Point, d[0].PerForm.Point)
	assert.InDelta(t, -0.5, d[1].More.Point, 1e-12)
	assert.Contains(t, d[1].Words, "fewer faults")
	assert.Equal(t, 80, d[1].More.N)
}

// By hand, with channels of unlike size: in the shop 10 forms of A with 0.5 and 10 of B with 1.5,
// at home 10 of A with 2.5 and 30 of B with 3; weights 5 and 7.5, so 8.75/12.5 = 0.7 more. Variances
// 10/36 but 30/29 of B at home: the standard error is sqrt(25 x 20/360 + 56.25 (1/36 + 1/29))/12.5 =
// 0.17693, with 60 - 2 x 2 degrees of freedom (t 2.00324 in any table).
func TestUnlikeChannelsByHand(t *testing.T) {
	d := Compare([]Cell{
		cellOf("A", "shop", repeat(5, 0, 1)...), cellOf("B", "shop", repeat(5, 1, 2)...),
		cellOf("A", "home", repeat(5, 2, 3)...), cellOf("B", "home", repeat(15, 2, 4)...),
	})
	require.Equal(t, []string{"A", "B"}, []string{d[0].Version, d[1].Version})
	e := d[1].More
	assert.InDelta(t, 0.7, e.Point, 1e-12)
	assert.InDelta(t, 2.00324*0.17693, (e.High-e.Low)/2, 1e-4)
}

// Student's sleep data in tenths of an hour (Student 1908, Biometrika 6:1-25), one channel,
// twice over so that there are enough: point and variances as R's t.test has them.
func TestOneChannelIsAPlainDifference(t *testing.T) {
	a, b := []int{7, -16, -2, -12, -1, 34, 37, 8, 0, 20}, []int{19, 8, 11, 1, -1, 44, 55, 16, 46, 34}
	d := Compare([]Cell{cellOf("A", "", repeat(2, a...)...), cellOf("B", "", repeat(2, b...)...)})
	var x, y []float64
	for _, v := range repeat(2, a...) {
		x = append(x, float64(v))
	}
	for _, v := range repeat(2, b...) {
		y = append(y, float64(v))
	}
	w := stats.Welch(y, x, 0.95)
	assert.InDelta(t, 15.8, d[1].More.Point, 1e-9)
	assert.InDelta(t, w.Point, d[1].More.Point, 1e-9)
	assert.InDelta(t, w.High, d[1].More.High, 0.05) // its degrees of freedom are a few fewer
}

// By hand, 20 forms of which half have a fault: the mean 0.5 with the standard error sqrt(20 x 0.25/19/20), and
// R's qt(.975, 19). By B each form has a fault more, by C there are forms enough in all but not of C.
func TestOneVersionByHand(t *testing.T) {
	d := Compare([]Cell{
		cellOf("A", "shop", repeat(10, 0, 1)...), cellOf("B", "shop", repeat(10, 1, 2)...), cellOf("C", "shop", repeat(5, 1, 2)...),
		cellOf("A", "fair", 9), cellOf("B", "fair", 0), // one form has no variance: it says nothing
	})
	e := Compare([]Cell{cellOf("A", "shop", repeat(10, 0, 1)...)})[0].PerForm
	assert.InDelta(t, 0.5, e.Point, 1e-12)
	assert.InDelta(t, 2.093024054*math.Sqrt(0.25/19), e.High-e.Point, 1e-8)
	assert.InDelta(t, 1, d[1].More.Point, 1e-12)
	assert.Equal(t, 40, d[1].More.N)
	assert.Less(t, d[1].More.Low, 1.0)
	assert.Contains(t, d[1].Words, "more faults than those by A")
	assert.False(t, d[2].More.Given())
}

func TestFewOrNone(t *testing.T) {
	assert.Empty(t, Compare(nil))
	assert.Empty(t, Compare([]Cell{{Channel: "home", Forms: 100}}))
	d := Compare([]Cell{cellOf("A", "home", repeat(30, 1)...), cellOf("B", "shop", repeat(30, 1)...), cellOf("C", "home", 1)})
	assert.False(t, d[1].More.Given() || d[2].More.Given())
	assert.Contains(t, d[2].Words, "Too few")
	_, err := json.Marshal(d)
	require.NoError(t, err)
}
