package translation

import (
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the release's German page anew")

// The page to begin with, which a release has on paper, is the English one said in German.
func TestThePageToBeginWithIsSaid(t *testing.T) {
	const english, german = "../../.ci/release-files/begin.html", "../../.ci/release-files/beginnen.html"
	l, err := Of("de")
	require.NoError(t, err)
	page, err := os.ReadFile(english)
	require.NoError(t, err)
	said, untold := l.Page(page)
	assert.Empty(t, untold)
	if *update {
		require.NoError(t, os.WriteFile(german, said, 0o644))
	}
	kept, err := os.ReadFile(german)
	require.NoError(t, err)
	assert.Equal(t, string(said), string(kept), "go test ./reports/translation -run PageToBeginWith -update")
}
