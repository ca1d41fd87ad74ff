package help

import (
	"html/template"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/notebooks/service/topic"
	"lastroom/reports/translation"
)

func TestHardWordsLeadToTheGlossary(t *testing.T) {
	const to = `<a class="word" href="/help/words#`
	for in, want := range map[string]template.HTML{
		`<p>It is mature, Mature.</p>`:                                   `<p>It is ` + to + `mature">mature</a>, Mature.</p>`,
		`<p>mature_orders, mature2</p>`:                                  `<p>mature_orders, mature2</p>`,
		`<p>premature</p>`:                                               `<p>premature</p>`,
		`<h2>mature</h2><p><a href="/">mature</a></p>`:                   `<h2>mature</h2><p><a href="/">mature</a></p>`,
		`<figure><svg><text>mature</text></svg></figure><li>mature</li>`: `<figure><svg><text>mature</text></svg></figure><li>` + to + `mature">mature</a></li>`,
		`<p>a &lt;b&gt; Forms cut from</p><td>mature</td>`:               `<p>a &lt;b&gt; ` + to + `first-form">Forms cut from</a></p><td>mature</td>`,
		`<p title="mature">x</p>`:                                        `<p title="mature">x</p>`,
	} {
		assert.Equal(t, want, Linked(template.HTML(in)))
	}
}

// Every address inside help leads somewhere.
func TestGlossaryIsWhole(t *testing.T) {
	ids := map[string]bool{}
	for _, w := range words {
		assert.False(t, ids[w.ID], w.ID)
		ids[w.ID] = true
		assert.NotEmpty(t, w.Says)
	}
	body, err := topic.Fill(templates, "work", nil)
	require.NoError(t, err)
	links := regexp.MustCompile(`/help/words#([a-z-]+)`).FindAllStringSubmatch(string(body), -1)
	assert.NotEmpty(t, links)
	for _, l := range links {
		assert.True(t, ids[l[1]], l[1])
	}
}

// On a page in another language the links are taken off before its sentences are looked
// up, and lead from that language's words afterwards.
func TestHardWordsLeadToTheGlossaryInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	unlinked, _ := Said([]byte(`<html lang="en"><p>mature</p></html>`), l)
	assert.NotContains(t, string(unlinked), "<a")
	page, untold := Said([]byte(`<html lang="en"><p>What a rule holds is counted on <a class="word" href="/help/words#first-form">first forms</a>.</p><p>Words</p></html>`), l)
	assert.Empty(t, untold)
	assert.Equal(t, `<html lang="de"><p>Was eine Regel anhält, wird an <a class="word" href="/help/words#first-form">ersten Bögen</a> gezählt.</p><p>Wörter</p></html>`, string(page))
}

// Each word that is found in English pages is found in German ones.
func TestGermanFormsAreWhole(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	for _, w := range words {
		if len(w.forms) > 0 {
			assert.NotEmpty(t, l.Forms(w.ID), w.ID)
		}
	}
}

// Help is said in German whole, every hard word too.
func TestHelpIsWholeInGerman(t *testing.T) {
	l, err := translation.Of("de")
	require.NoError(t, err)
	for name, data := range map[string]any{"work": nil, "words": words} {
		body, err := topic.Fill(templates, name, data)
		require.NoError(t, err)
		_, untold := l.Page([]byte(body))
		assert.Empty(t, untold, name)
	}
}
