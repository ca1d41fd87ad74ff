package bookpages

import (
	"bytes"
	"testing"

	"lastroom/ingest/layout"
	"lastroom/ingest/layout/propose"
	"lastroom/reports/page"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The questions are what a person has to answer: they stand where a terminal ends, after
// hundreds of lines of columns, with their number.
func TestQuestionsOfALayoutStandAtTheEnd(t *testing.T) {
	p := &propose.Proposal{Text: "file: book.csv", Views: make([]layout.View, 2), Unused: []string{"book.csv: Mood"},
		Questions: []string{"Which unit?", "Which day?"}, Notes: []string{"a tab is hidden"}}
	var b bytes.Buffer
	require.NoError(t, page.WriteText(&b, Layout(p, "map.yaml"), page.TextOptions{Width: 80}))
	assert.Contains(t, b.String(), "2 columns are understood, 1 is not used. 2 questions are for you, at the end.")
	assert.Regexp(t, `(?s)Notes\n-+\na tab is hidden\n\nQuestions\n-+\n1\. Which unit\?\n2\. Which day\?\n\nNext\n-+\nThe mapping is in map.yaml`, b.String())
}
