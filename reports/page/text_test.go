package page

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/stats"
)

func text(t *testing.T, o TextOptions) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, sample(), o))
	return b.String()
}

// textTable writes one table alone.
func textTable(t *testing.T, tab Table, o TextOptions) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, &Document{Sections: []Section{{Blocks: []Block{tab}}}}, o))
	return strings.TrimPrefix(b.String(), "\n")
}

func TestTextOnAPipeIsPlain(t *testing.T) {
	s := text(t, TextOptions{})
	assert.NotContains(t, s, "\t")
	assert.NotContains(t, s, "\x1b")
	assert.Contains(t, s, "tape marks missing")
	assert.Contains(t, s, "8.0 (5.0 to 12.0)")
	assert.Contains(t, s, TooFew)
	assert.Contains(t, s, "showing 3 of 1,340")
	assert.Contains(t, s, "Orders: 1, 2, 3, 4, 5, 6 and 2 more")
	assert.Contains(t, s, "as of 2024-10-04 · book 0123456789ab · lastroom 1.0")
	assert.Less(t, strings.Index(s, "First"), strings.Index(s, "Annex"), "the annex comes last")
}

func TestTextFitsTheTerminal(t *testing.T) {
	for _, w := range []int{60, 80, 120} {
		for _, l := range strings.Split(text(t, TextOptions{Width: w, Bold: true}), "\n") {
			l = strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(l)
			if strings.Contains(l, "<script>") && w < 80 {
				continue // a single word longer than its column
			}
			assert.LessOrEqual(t, utf8.RuneCountInString(l), w, "width %d: %q", w, l)
		}
	}
}

func TestTextColumnsAreAligned(t *testing.T) {
	tab := Table{Columns: []Column{{Key: "a", Title: "Zone"}, {Key: "n", Title: "n", Unit: "mm", Numeric: true}},
		Rows: [][]Cell{{Text("ball"), Count(7)}, {Text("größe"), Count(1200)}}}
	got := textTable(t, tab, TextOptions{})
	assert.Equal(t, strings.Join([]string{
		"Zone   n (mm)",
		"-----  ------",
		"ball        7",
		"größe   1,200",
	}, "\n")+"\n", got)
}

// An interval is never torn apart; where the columns do not fit at all the rows
// become short lists.
func TestNarrowTerminals(t *testing.T) {
	tab := Table{Columns: []Column{{Key: "a", Title: "Fault"}, {Key: "n", Title: "Orders", Numeric: true}, {Key: "x", Title: "Remade with", Unit: "%", Numeric: true}, {Key: "y", Title: "Remade without", Unit: "%", Numeric: true}},
		Rows: [][]Cell{{Text("tape marks missing"), Count(1322), Percent(est(0.2, 0.133, 0.289, 100)), Percent(stats.Missing(3, "m", "w"))}}}
	printed := func(w int) string {
		return textTable(t, tab, TextOptions{Width: w})
	}
	assert.Equal(t, strings.Join([]string{
		"Fault       Orders     Remade with   Remade without",
		"                               (%)              (%)",
		"----------  ------  --------------  ---------------",
		"tape marks   1,322            20.0  too few to tell",
		"missing             (13.3 to 28.9)",
	}, "\n")+"\n", printed(51))
	assert.Equal(t, strings.Join([]string{
		"tape marks missing",
		"  Orders 1,322;",
		"  Remade with (%) 20.0 (13.3 to 28.9);",
		"  Remade without (%) too few to tell",
	}, "\n")+"\n", printed(42))
}

func TestControlCharactersOfASheetNeverReachTheTerminal(t *testing.T) {
	tab := Table{Columns: []Column{{Key: "a", Title: "A"}}, Rows: [][]Cell{{Text("x\x1b[31mred\x07\u009b2J\ty")}}}
	got := textTable(t, tab, TextOptions{})
	assert.Contains(t, got, "x[31mred2J y")
}

func TestNumbersForPeople(t *testing.T) {
	for want, got := range map[string]string{
		"1,234,567": Thousands(1234567), "-1,000": Thousands(-1000), "0": Thousands(0), "999": Thousands(999),
		"12,345.68": Fixed(12345.678, 2), "0.0": Fixed(-0.01, 1), "-0.5": Fixed(-0.5, 1), "": Fixed(nan, 1),
		"8.0 (5.0 to 12.0)": Percent(est(0.08, 0.05, 0.12, 812)).Text,
		TooFew:              Percent(stats.Missing(3, "m", "why")).Text,
		"8.0 % (95 % interval 5.0 to 12.0, n 812)":  InWords(est(0.08, 0.05, 0.12, 812), 100, 1, " %"),
		"not given: why; and why":                   InWords(stats.Missing(3, "m", "why", "and why"), 100, 1, " %"),
		"−8.0 (95 % interval −12.0 to −5.0, n 812)": InWords(est(-0.08, -0.12, -0.05, 812), 100, 1, ""),
		"8.0 % (n 5)": InWords(est(0.08, nan, nan, 5), 100, 1, " %"),
	} {
		assert.Equal(t, want, got)
	}
}

// Figures have a true minus sign, and so have the tables and sentences beside them.
func TestOneMinusSign(t *testing.T) {
	tab := Table{Columns: []Column{{Key: "a", Title: "A"}, {Key: "b", Title: "B", Numeric: true}}, Rows: [][]Cell{{AsIs("-7"), Scaled(est(-0.08, -0.12, -0.05, 812), 100, 1)}}}
	assert.Contains(t, textTable(t, tab, TextOptions{}), "−8.0 (−12.0 to −5.0)")
	assert.Contains(t, textTable(t, tab, TextOptions{}), "-7 ")
	var b bytes.Buffer
	require.NoError(t, CSV(&b, &tab))
	assert.NotContains(t, b.String(), "−")
}

func TestRefusalsAreSaidOnce(t *testing.T) {
	rows := sample().Sections[1].Blocks[2].(Table).Rows
	assert.Equal(t, []string{`4 orders: no share under 10 (=HYPERLINK("x"))`}, Refusals(append(rows, rows...)))
}

func FuzzWriteText(f *testing.F) {
	f.Add("a b", "c\td", 20)
	f.Fuzz(func(t *testing.T, a, b string, w int) {
		tab := Table{Caption: a, Columns: []Column{{Key: "a", Title: a}, {Key: "b", Title: b, Numeric: true}}, Rows: [][]Cell{{Text(b), Text(a)}, {Text(a)}}}
		var out bytes.Buffer
		require.NoError(t, WriteText(&out, &Document{Title: a, Lead: b, Sections: []Section{{Title: b, Blocks: []Block{tab}}}}, TextOptions{Width: w % 200}))
		assert.NotContains(t, out.String(), "\x1b")
		assert.NotContains(t, out.String(), "\t")
	})
}
