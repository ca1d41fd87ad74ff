package figure

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/reports/figure/svg"
)

// Shades of the boot map: none, then equal steps up to the largest count, each
// count in one step, no step empty.
func TestRampCoversEveryCount(t *testing.T) {
	for _, most := range []int{1, 2, 3, 4, 5, 11, 97, 1340} {
		r := ramp{most}
		assert.Equal(t, 0, r.step(0))
		assert.Equal(t, 1, r.step(1))
		assert.Equal(t, r.steps(), r.step(most))
		assert.Equal(t, svg.Step4, r.tone(r.steps()), "the most is the darkest")
		assert.Len(t, r.keys(), r.steps()+1)
		for n := 2; n <= most; n++ {
			assert.Contains(t, []int{r.step(n - 1), r.step(n-1) + 1}, r.step(n))
		}
		for step := 2; step <= r.steps(); step++ {
			assert.NotEqual(t, r.tone(step-1), r.tone(step))
		}
	}
}
