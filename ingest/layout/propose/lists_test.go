package propose

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/sketch"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/layout"
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
// number and report, none missing, none invented, none on another side. One shop, the
// one with most to choose; with CI=true all six.
func TestSixShopsFromLists(t *testing.T) {
	for _, shop := range readback.ShopNames {
		if shop != "shop-f" && !breadth.Wide() {
			continue
		}
		t.Run(shop, func(t *testing.T) {
			files, _, err := Gather(context.Background(), readback.Sources(t, readback.Shop(t, shop)), t.TempDir())
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

// A layout that was made of this year's files reads next year's: figures in the
// names of files may be others, tabs of years too.
func TestALayoutReadsFilesToCome(t *testing.T) {
	year := func(year string) (files []layout.File) {
		dir := t.TempDir()
		for name, text := range map[string]string{
			"book " + year + ".csv":  "Order,Customer,In,Shipped,Ball L,Ball R,9\" L,9\" R\n" + year + "1,K1,13/2/" + year + ",14/3/" + year + ",9,9,14,14\n" + year + "2,K2,15/2/" + year + ",16/3/" + year + ",9,9,14,14\n",
			"jeans " + year + ".csv": "Order,Height,L,R\n" + year + "1,9\",15,15\n",
		} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
		}
		files, _, err := Gather(context.Background(), []string{dir}, t.TempDir())
		require.NoError(t, err)
		require.Len(t, files, 2)
		return files
	}
	p, err := ForPage(context.Background(), year("2024"), nil, t.TempDir())
	require.NoError(t, err)
	require.Contains(t, p.Text, "- file: \"book *.csv\"")
	require.Contains(t, p.Text, "- file: \"jeans *.csv\"")
	m, err := layout.Parse("kept", []byte(p.Text))
	require.NoError(t, err)
	c, err := m.Convert(context.Background(), year("2025"), t.TempDir())
	require.NoError(t, err)
	require.Empty(t, c.Rejects)
	rows, problems := readback.Parts(t, c.Parts)
	require.Empty(t, problems)
	require.Len(t, rows["orders"], 2)
	require.Len(t, rows["measurements"], 10)
	require.Equal(t, "381", rows["measurements"]["20251|left|tucked|leg|228.6"])

	// What was chosen for the one stands in the lists of the other.
	answers := sketch.Answers{"book #.csv|days": "day first", "book #.csv|Customer|is": notUsed}
	p, err = ForPage(context.Background(), year("2026"), answers, t.TempDir())
	require.NoError(t, err)
	require.NotContains(t, p.Text, "customer_id")
	for _, l := range p.Sketch.Tables[0].Lists {
		require.Equal(t, strings.Contains(l.Label, "not in jeans 2026.csv"), l.Open, l.Label) // that nobody answered
	}
}
