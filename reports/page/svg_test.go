package page

import (
	"bytes"
	"encoding/xml"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSVGStandsAlone(t *testing.T) {
	f := Figure{ID: "f", SVG: []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 720 270.5" role="img"><title>t</title></svg>`)}
	var b bytes.Buffer
	require.NoError(t, SVG(&b, &f))
	assert.Contains(t, b.String(), `viewBox="-16 -16 752 302.5" width="752" height="302.5"`)
	var root struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
		Title   string   `xml:"title"`
	}
	require.NoError(t, xml.Unmarshal(b.Bytes(), &root))
	assert.Equal(t, "t", root.Title)
	for _, none := range []string{"", "<svg>", `<svg viewBox="0 0 x y">`} {
		assert.ErrorContains(t, SVG(&b, &Figure{ID: "f", SVG: []byte(none)}), "holds no drawing")
	}
	assert.Len(t, Figures(sample()), 1)
}
