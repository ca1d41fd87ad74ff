package load

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/testdata/breadth"
)

// A text in which most lines end as on Windows and some do not loses no row:
// where the header does not, the first or last row, and one in the midst.
func TestMixedLineEnds(t *testing.T) {
	breadth.Leave(t, "TestCorrectedRowsSupersede has a header and a row in the midst that end so")
	book := smallBook(t) // has these rows: each is as it was
	lines := strings.Split(small["measurements.csv"], "\n")
	for _, at := range []int{0, 1, len(lines) / 2, len(lines) - 2} {
		text := ""
		for i, line := range lines[:len(lines)-1] {
			end := "\r\n"
			if i == at {
				end = "\n"
			}
			text += line + end
		}
		r := one(t, book, "measurements.csv", text, nil)
		assert.Equal(t, "measurements 6/0/6/0/0", counts(r), "bare line feed after line %d", at+1)
	}
}
