package propose

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/sketch"
	"lastroom/ingest/layout/testdata/readback"
)

// chosenBy is what the owner of each shop would choose (../shared/spreadsheets,
// notes.md): column, or table where there is none, what the list says, and one of
// its answers.
var chosenBy = map[string][][3]string{
	"shop-a": {
		{"", "rows are hidden", "they count"}, {"Tuck?", "an empty cell means", "no"}, {"Measured by", "KL", "the shop"}, {"Measured by", "JB", "the shop"},
		{"Why", "leather stretched", "material"}, {"Why", "pattern", "pattern"},
	},
	"shop-b": {
		{"", "in more than one file", "the last file's row counts"}, {"Vermessen von", "HB", "the shop"}, {"Vermessen von", "MW", "the shop"},
	},
	"shop-c": {
		{"", "an order that is not in", "may be worn either way"}, {"Taped by", "RT", "the shop"}, {"Taped by", "Em", "the shop"},
		{"Comment", "it is", "irregularities of the foot, in words"}, {"Comment", "2nd pair", "nothing about the foot"}, {"Comment", "see drawing", "nothing about the foot"},
	},
	"shop-d": {
		{"", "an order that is not in", "is worn with the trousers outside"}, {"Whose fault", "tape", "measuring"}, {"Whose fault", "us - lasting", "making"},
		{"Whose fault", "pattern", "pattern"}, {"Whose fault", "?", "unknown"},
	},
	"shop-e": {
		{"", "in more than one file", "the last file's row counts"}, {"", "behind an order's number", "means it was made again, told on the day the row came in"},
		{"Tuck?", "an empty cell means", "no"}, {"Taped by", "wt", "the shop"},
	},
	"shop-f": {
		{"", "the names of the places stand twice", "the first is the left foot"}, {"", "an order that is not in", "is worn with the trousers outside"},
		{"Meas.", "Gr", "the shop"}, {"Meas.", "Pm", "the shop"}, {"Meas.", "J.", "a dealer"},
	},
}

// chooses answers a list of a sketch, by what a person sees of it.
func chooses(s *sketch.Sketch, answers sketch.Answers, column, list, answer string) bool {
	try := func(header string, lists []sketch.List) bool {
		for _, l := range lists {
			if header != column || l.Text != list && (l.Text != "" || !strings.Contains(l.Label, list)) {
				continue
			}
			for _, o := range l.Options {
				if o.Label == answer {
					answers[l.Name] = o.Value
					return true
				}
			}
		}
		return false
	}
	found := false
	for _, table := range s.Tables {
		found = found || try("", table.Lists)
		for _, c := range table.Columns {
			found = found || try(c.Header, c.Lists)
		}
	}
	return found
}

// Six shops are read as they are by choosing from lists alone: every order, form,
// number and report, none missing, none invented, none on another side.
func TestSixShopsFromLists(t *testing.T) {
	for _, shop := range readback.ShopNames {
		t.Run(shop, func(t *testing.T) {
			files, _, err := Gather(context.Background(), readback.Sources(t, shop), t.TempDir())
			require.NoError(t, err)
			answers := sketch.Answers{}
			p, err := ForPage(context.Background(), files, answers, t.TempDir())
			require.NoError(t, err)
			asked := p.Sketch.Open()
			for _, round := range []string{"what stands there", "what came up by the answers"} {
				for _, c := range chosenBy[shop] {
					if !chooses(p.Sketch, answers, c[0], c[1], c[2]) {
						require.Equal(t, "what stands there", round, "no list says %q", c)
					}
				}
				p, err = ForPage(context.Background(), files, answers, t.TempDir())
				require.NoError(t, err)
			}
			t.Log(asked, "questions,", len(answers), "answers")
			assert.Zero(t, p.Sketch.Open(), "what is answered is not asked again")
			rows, problems := readback.Parts(t, p.Parts)
			assert.Empty(t, readback.Some(problems))
			assert.Empty(t, readback.Some(readback.Differences(rows, readback.Truth(t, shop))))

			// All lists sent as they stand, as a page does, say the same.
			for _, table := range p.Sketch.Tables {
				for _, l := range table.Lists {
					answers[l.Name] = l.Chosen
				}
				for _, c := range table.Columns {
					for _, l := range c.Lists {
						if l.Add == "" {
							answers[l.Name] = l.Chosen
						}
					}
				}
			}
			all, err := ForPage(context.Background(), files, answers, t.TempDir())
			require.NoError(t, err)
			again, problems := readback.Parts(t, all.Parts)
			assert.Empty(t, readback.Some(problems))
			assert.Empty(t, readback.Some(readback.Differences(again, rows)))
		})
	}
}
