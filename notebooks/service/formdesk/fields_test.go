package formdesk

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A day may be typed as German pages print it; what is no day stays as it was typed.
func TestADayIsTypedAsItIsPrinted(t *testing.T) {
	for typed, want := range map[string]string{"27.11.2026": "2026-11-27", "3.2.2026": "2026-02-03", "2026-11-27": "2026-11-27", "31.2.2026": "31.2.2026", "": ""} {
		_, f := fieldsOf(url.Values{FieldReceived: {typed}}, nil)
		assert.Equal(t, want, f.Received, typed)
	}
}
