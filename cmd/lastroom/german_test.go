package main

import (
	"maps"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pages "lastroom/notebooks/service/help"
	"lastroom/reports/translation"
)

// germanPages gives what looks at English pages: in the end the test fails for each sentence
// that the German catalogue does not have.
func germanPages(t *testing.T) func(res *http.Response, page []byte) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	untold := map[string]string{}
	t.Cleanup(func() {
		for _, sentence := range slices.Sorted(maps.Keys(untold)) {
			assert.Fail(t, "untold in German", "%s: %s", untold[sentence], sentence)
		}
	})
	return func(res *http.Response, page []byte) {
		if !strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") {
			return
		}
		_, missing := pages.Said(page, l)
		for _, sentence := range missing {
			untold[sentence] = res.Request.URL.Path
		}
	}
}

// Every word of every page that the invented shop has is said in German. Small and odd shops
// are looked at by TestEveryFigureIsANumberOrSaidInWords.
func TestEveryWordIsSaidInGerman(t *testing.T) {
	everyPage(t, filepath.Join(ownDemo(t), "shop.duckdb"))
}
