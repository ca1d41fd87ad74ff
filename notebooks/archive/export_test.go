package archive

import (
	"bytes"
	"encoding/json"
	"testing"

	"lastroom/notebooks/testdata/fake"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The shape that the published JSON schema of the format (4.5) asks of a
// notebook, a markdown cell and a code cell: the required keys.
func TestOpenJSON(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, OpenJSON(&b, runOf(t, fake.New())))
	var nb map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &nb))
	assert.EqualValues(t, 4, nb["nbformat"])
	assert.EqualValues(t, 5, nb["nbformat_minor"])
	ids := map[any]bool{}
	code := 0
	for _, c := range nb["cells"].([]any) {
		c := c.(map[string]any)
		assert.Regexp(t, `^[a-zA-Z0-9_-]{1,64}$`, c["id"])
		assert.False(t, ids[c["id"]])
		ids[c["id"]] = true
		assert.Contains(t, c, "metadata")
		assert.IsType(t, "", c["source"])
		if c["cell_type"] == "code" {
			code++
			assert.Contains(t, c, "execution_count")
			for _, o := range c["outputs"].([]any) {
				o := o.(map[string]any)
				assert.Equal(t, "display_data", o["output_type"])
				assert.Contains(t, o, "data")
				assert.Contains(t, o, "metadata")
			}
		} else {
			assert.Len(t, c, 4, "a markdown cell has no other key")
		}
	}
	assert.Equal(t, 3, code)
}
