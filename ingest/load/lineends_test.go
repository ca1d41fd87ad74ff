package load

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A text in which most lines end as on Windows and some do not loses no row:
// where the header does not, and one in the midst; with CI=true the first and last row too.
func TestMixedLineEnds(t *testing.T) {
	lines := strings.Split(small["measurements.csv"], "\n")
	places := []int{0, len(lines) / 2}
	if wide() {
		places = append(places, 1, len(lines)-2)
	}
	for _, at := range places {
		text := ""
		for i, line := range lines[:len(lines)-1] {
			end := "\r\n"
			if i == at {
				end = "\n"
			}
			text += line + end
		}
		book := newBook(t)
		r, err := Sheets(context.Background(), book, options(writeSheets(t, map[string]string{"measurements.csv": text})))
		require.NoError(t, err)
		assert.Empty(t, r.KeptOut)
		assert.Equal(t, []string{"6"}, ask(t, book, "SELECT count(*)::VARCHAR FROM measurements"), "bare line feed after line %d", at+1)
	}
}
