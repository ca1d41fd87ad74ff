package page

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A number in letters that run to the left does not turn round the sentence it stands in:
// UAX 9, 2.5, isolates U+2066 and U+2069.
func TestIsolate(t *testing.T) {
	for s, want := range map[string]string{
		"Order A-17: cut":               "Order A-17: cut",
		"Order 2-שלום: cut":             "Order \u20662-שלום\u2069: cut",
		"Of order 2-שלום.":              "Of order \u20662-שלום\u2069.",
		"order שלום-2, 3 days":          "order \u2066שלום-2\u2069, 3 days",
		"“צר מדי ליד הבוהן” is written": "“\u2066צר מדי ליד הבוהן\u2069” is written",
		"طلب 5 and 6":                   "\u2066طلب\u2069 5 and 6",
	} {
		assert.Equal(t, want, Isolate(s))
	}
	var b bytes.Buffer
	require.NoError(t, HTML(&b, &Document{Title: "Order 2-שלום", Lead: "Order 2-שלום is cut.", Sections: []Section{{ID: "s", Title: "Form 3-שלום", Blocks: []Block{Prose{"Customer 4-שלום: 2 orders."}}}}}))
	for _, want := range []string{"<h1>Order \u20662-שלום\u2069</h1>", "Order \u20662-שלום\u2069 is cut.", "Form \u20663-שלום\u2069</h2>", "Customer \u20664-שלום\u2069: 2 orders."} {
		assert.Contains(t, b.String(), want)
	}
}
