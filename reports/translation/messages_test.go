package translation

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is wrong with files, rows and notebooks is put together of parts; file, line, the
// reason and what to do are each found.
func TestMessagesAreSaid(t *testing.T) {
	l, err := Of("de")
	require.NoError(t, err)
	for english, want := range map[string]string{
		"Order ledger.xlsx, tab Jan line 3: lacks the column Ball that the mapping names.":                                                    "Order ledger.xlsx, Blatt Jan, Zeile 3: es fehlt die Spalte Ball, die die Zuordnung nennt.",
		"Map.yaml line 3, column 5: the height \"12\" has no unit; give mm, cm or in.":                                                        "Map.yaml, Zeile 3, Spalte 5: die Höhe „12“ hat keine Einheit; geben Sie mm, cm oder in an.",
		"written in in, but its unit is given as cm; height is given, but only the point leg has a height":                                    "ist in Zoll geschrieben, aber als Einheit ist cm angegeben; height ist angegeben, aber nur die Stelle leg hat eine Höhe",
		"cut_on is not a day; write it as 2026-09-30":                                                                                         "cut_on ist kein Tag; schreiben Sie ihn wie 2026-09-30",
		"ours.md:11: cell \"a\": Catalog Error: Table with name chort does not exist! Did you mean \"cohort\"?":                               "ours.md:11: Zelle „a“: Verzeichnis: eine Tabelle chort gibt es nicht! Meinten Sie „cohort“?",
		"ours.md:4: parameter \"a\": there is no type \"txt\"; did you mean \"text\"?":                                                        "ours.md:4: Angabe „a“: Es gibt keine Art „txt“; meinten Sie „text“?",
		"The order book is being written: shop.duckdb is held by another program; wait until it is done, then try again.":                     "Das Auftragsbuch wird gerade geschrieben: shop.duckdb wird von einem anderen Programm benutzt; warten Sie, bis das fertig ist, und versuchen Sie es dann noch einmal.",
		"Judging the numbers: 45 %, 3 s.":                                                                                                     "Beim Beurteilen der Zahlen: 45 %, 3 s.",
		"3 orders of the book are not in this export (A, B, C) and end; the history keeps them, and a sheet that holds them brings them back": "3 Aufträge des Auftragsbuchs stehen nicht in diesem Export (A, B, C) und enden; der Verlauf behält sie, und eine Tabelle, in der sie stehen, bringt sie zurück",
	} {
		said := l.tell(english)
		assert.Empty(t, said.untold, english)
		assert.Equal(t, want, said.said)
	}
}
