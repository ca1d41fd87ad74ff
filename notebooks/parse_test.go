package notebooks

import (
	"os"
	"strings"
	"testing"

	"lastroom/analysis/cohort"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// small is the notebook that the tests of running read too.
var small = func() string {
	text, err := os.ReadFile("testdata/fake/channels.md")
	if err != nil {
		panic(err)
	}
	return string(text)
}()

// fakeCatalogue has one analysis.
var fakeCatalogue = Catalogue{"marks": {Keys: []Key{{"fault", "id of the fault"}}, Parts: []string{"table", "words"}}}

func day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

func TestParse(t *testing.T) {
	n, err := Parse("channels", []byte(small), fakeCatalogue)
	require.NoError(t, err)
	assert.Equal(t, "Channels", n.Title)
	require.Len(t, n.Cells, 3)
	assert.Equal(t, "channels", n.Cells[0].Name)
	assert.Equal(t, 25, n.Cells[0].Line)
	assert.Equal(t, "By channel", n.Cells[0].Keys["caption"])
	assert.Equal(t, []string{"month"}, SQLParameters(n.Cells[0].Body))
	require.Len(t, n.Params, 3)
	assert.Equal(t, 8, n.Params[1].Line)
	var links []Link
	for _, p := range n.Parts {
		if p.Prose != nil {
			links = append(links, p.Prose.Links...)
		}
	}
	require.Len(t, links, 5)
	assert.Equal(t, Link{18, false, "marks.rate", "per 100", "8 in 100"}, links[1])
	assert.Equal(t, Link{22, true, "marks.rate", "above 0.1", "Missing marks go with remakes"}, links[2])
	assert.Equal(t, 23, links[3].Line)
}

func TestParseRefusesWithLineAndNearestName(t *testing.T) {
	front := "---\ntitle: T\nparameters:\n  - {name: month, type: month, default: latest}\n---\n"
	cell := func(info, body string) string { return front + "\n```" + info + "\n" + body + "```\n" }
	for _, c := range []struct{ name, src, want string }{
		{"no front matter", "# hello\n", "x.md:1: the notebook has no front matter"},
		{"no title", "---\nfor: me\n---\n", "x.md:1: the front matter has no title"},
		{"front key", "---\ntitel: T\n---\n", `x.md:2: the front matter knows no "titel"; did you mean "title"?`},
		{"parameter key", "---\ntitle: T\nparameters:\n  - name: a\n    tpye: text\n---\n", `x.md:5: the front matter knows no "tpye"; did you mean "type"?`},
		{"parameter type", "---\ntitle: T\nparameters:\n  - {name: a, type: mnoth}\n---\n", `there is no type "mnoth"; did you mean "month"?`},
		{"bad default", "---\ntitle: T\nparameters:\n  - {name: a, type: integer, default: 3, until: 2}\n---\n", `3 is out of bounds; it must be at most 2`},
		{"bad yaml", "---\ntitle: [\n---\n", "x.md:2: the front matter can't be read"},
		{"kind", cell("sqll name=a", "select 1\n"), `x.md:7: there is no kind of cell "sqll"; did you mean "sql"?`},
		{"key", cell("sql nmae=a", "select 1\n"), `a sql cell knows no "nmae"; did you mean "name"?`},
		{"analysis", cell("finding of=mraks", ""), `there is no analysis "mraks"; did you mean "marks"?`},
		{"analysis key", cell("finding of=marks fautl=x", ""), `a finding cell knows no "fautl"; did you mean "fault"?`},
		{"dollar", cell("sql name=a", "select $monht\n"), `x.md:7: cell "a": no parameter is called "monht"; did you mean "month"?`},
		{"dollar key", cell("finding of=marks fault=$mont", ""), `no parameter is called "mont"`},
		{"from", cell("figure from=b draw=bars", ""), `no earlier cell is called "b"`},
		{"part", cell("finding of=marks name=a", "") + "```show from=a part=tabel\n```\n", `a finding of marks has no such part; did you mean "table"?`},
		{"part of a query", cell("sql name=a", "select 1\n") + "```show from=a part=x\n```\n", `cell "a" is no finding`},
		{"empty query", cell("sql name=a", ""), "the query is empty"},
		{"finding with body", cell("finding of=marks", "select\n"), "nothing between its fences"},
		{"twice", cell("sql name=a", "select 1\n") + "```sql name=a\nselect 1\n```\n", `x.md:10: cell "a": two cells are called "a"`},
		{"value", front + "[x](value:mnth)\n", `x.md:6: "mnth" names no parameter and no cell; did you mean "month"?`},
		{"claim", front + "[x](claim:month)\n", `x.md:6: the claim "x"`},
		{"claim op", front + "[x](claim:month \"abvoe 1\")\n", `did you mean "above"?`},
		{"value form", front + "[x](value:month \"pecent\")\n", `did you mean "percent"?`},
		{"bytes", front + "\xff\n", "x.md:6: the text is not UTF-8"},
		{"quote", cell("sql name=\"a", "select 1\n"), "name= has no closing quote"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse("x", []byte(c.src), fakeCatalogue)
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			var e *Error
			assert.ErrorAs(t, err, &e)
		})
	}
}

// known is the state of a book in which boots were shipped in every month.
func known(asOf string) Facts {
	return Facts{AsOf: day(asOf), Month: MonthToTell(day(asOf), nil)}
}

func TestBind(t *testing.T) {
	n, err := Parse("channels", []byte(small), fakeCatalogue)
	require.NoError(t, err)
	b, err := n.Bind(nil, known("2026-10-30"))
	require.NoError(t, err)
	assert.Equal(t, []string{"2026-09", "20", "tape-marks-missing"}, b.Words, "it ended 30 days before")
	assert.Equal(t, day("2026-09-01"), b.Args["month"])
	b, err = n.Bind(nil, known("2026-10-29"))
	require.NoError(t, err)
	assert.Equal(t, "2026-08", b.Words[0])

	for set, want := range map[[2]string]string{
		{"moth", "2026-09"}:                    `no parameter is called "moth"; did you mean "month"?`,
		{"month", "September"}:                 `"September" is not a month`,
		{"least", "0"}:                         "it must be at least 1",
		{"least", "99999999999999999999"}:      "is not a whole number",
		{"fault", "tape-mark-missing"}:         `did you mean "tape-marks-missing"?`,
		{"month", "2026-13"}:                   "is not a month",
		{"fault", "'); drop table orders; --"}: "is no choice",
	} {
		_, err := n.Bind(map[string]string{set[0]: set[1]}, known("2026-10-15"))
		require.Error(t, err)
		assert.Contains(t, err.Error(), want)
	}
}

// FuzzParse: whatever is written, the parser answers with a notebook or an
// Error, and the prose that comes out holds no script.
func FuzzParse(f *testing.F) {
	f.Add(small)
	f.Add("---\ntitle: T\n---\n<script>alert(1)</script> [a](javascript:alert(1)) ![p](http://x/y.png)\n")
	f.Add("---\n!0 000\n---\n")
	f.Add("---\ntitle: T\n---\n```sql name=a\nselect 1")
	f.Fuzz(func(t *testing.T, src string) {
		n, err := Parse("f", []byte(src), fakeCatalogue)
		if err != nil {
			var e *Error
			assert.ErrorAs(t, err, &e)
			return
		}
		for _, p := range n.Parts {
			if p.Prose == nil {
				continue
			}
			fill := make([]Filled, len(p.Prose.Links))
			h := strings.ToLower(string(p.Prose.HTML(fill)))
			for _, bad := range []string{"<script", "<img", "<svg", "<iframe", "<style", "href=\"javascript:"} {
				assert.NotContains(t, h, bad)
			}
			p.Prose.Text(fill)
		}
	})
}

// A shop that shipped nothing lately, or only lately, is shown the month that it has.
func TestMonthToTell(t *testing.T) {
	month := func(s string) cohort.Month {
		m, err := cohort.ParseMonth(s)
		require.NoError(t, err)
		return m
	}
	for _, c := range []struct {
		name    string
		shipped []cohort.Month
		want    string
	}{
		{"every month", []cohort.Month{month("2026-08"), month("2026-09"), month("2026-10")}, "2026-09"},
		{"a gap at the end", []cohort.Month{month("2026-02"), month("2026-03")}, "2026-03"},
		{"a shop that begins", []cohort.Month{month("2026-10")}, "2026-10"},
		{"nothing shipped", nil, "2026-09"},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, MonthToTell(day("2026-10-30"), c.shipped).String())
		})
	}
	assert.Zero(t, MonthToTell(cohort.NoDay, nil))
}
