package translation

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func sample(t *testing.T, more string) *Language {
	t.Helper()
	f, err := texts("german")
	require.NoError(t, err)
	l, err := parse("de", map[string][]byte{"language.txt": f["language.txt"], "more.txt": []byte(more)})
	require.NoError(t, err)
	return l
}

func TestTextIsSaid(t *testing.T) {
	l := sample(t, `
tape marks missing
  Bandmarken fehlen
{text}: probably costs about {n} remakes per 100 such orders.
  {text}: kostet wohl etwa {n} Neuanfertigungen je 100 solcher Aufträge.
Of {n} pairs shipped in {month}, {n2} have come back.
  Von {n} Paaren, die im {month} hinausgingen, sind {n2} zurückgekommen.
Of {n} pairs shipped in {month}, 1 has come back.
  Von {n} Paaren, die im {month} hinausgingen, ist 1 zurückgekommen.
marks missing (all)
  Marken fehlen (alle)
Nothing waits.
  Nichts wartet.
The month is {text}.
  Der Monat ist {text}.
marks {text}
  Marken: {text}
marks not talked over
  Marken nicht besprochen
Order
  Auftrag
{n} mm
  {n} mm
For {idword}
  Für {idword}
{idword} unknown
  {idword} nicht bekannt
unknown
  nicht bekannt
`)
	for english, want := range map[string]string{
		"Tape marks missing": "Bandmarken fehlen",
		"Tape marks missing: probably costs about 3.5 remakes per 100 such orders.": "Bandmarken fehlen: kostet wohl etwa 3,5 Neuanfertigungen je 100 solcher Aufträge.",
		"Of 1,340 pairs shipped in September 2026, 1 has come back. Nothing waits.": "Von 1.340 Paaren, die im September 2026 hinausgingen, ist 1 zurückgekommen. Nichts wartet.",
		"The month is order. Nothing waits.":                                        "Der Monat ist Auftrag. Nichts wartet.",
		"Marks not talked over (order)":                                             "Marken nicht besprochen (Auftrag)",
		"270, 271 mm":                                                               "270, 271 mm",
		"CHF\u00a01,200":                                                            "CHF\u00a01.200",
		"Order:":                                                                    "Auftrag:",
		"order":                                                                     "Auftrag",
		"−3.25 %":                                                                   "−3,25 %",
		"2026-09-30":                                                                "30.09.2026",
		"3 March 2026":                                                              "3. März 2026",
		"2.5 mm":                                                                    "2,5 mm",
		"M-0017.a":                                                                  "M-0017.a",
		"For M-0017.a":                                                              "Für M-0017.a",
		"M7 unknown":                                                                "M7 nicht bekannt",
		"Order, unknown":                                                            "Auftrag, nicht bekannt",
		"For all of us":                                                             "For all of us",
		"Tape marks missing (Anna, order, Berta)": "Bandmarken fehlen (Anna, Auftrag, Berta)",
		"not known yet": "not known yet",
		"Marks missing (all), order; marks missing (all).": "Marken fehlen (alle), Auftrag; Marken fehlen (alle).",
	} {
		assert.Equal(t, want, l.Text(english), english)
	}
	assert.Equal(t, []string{"Not known yet"}, l.tell("Nothing waits. Not known yet").untold)
}

// What stays as it is takes no sentence with it that could be said.
func TestWhatStaysIsNoSentence(t *testing.T) {
	l := sample(t, `
{id} is not a day
  {id} ist kein Tag
is empty
  ist leer
Nothing waits.
  Nichts wartet.
The line is: {id}
  Die Zeile lautet: {id}
{id} line {n}: {reason}
  {id}, Zeile {n}: {reason}
is damaged: it lists no tab
  ist beschädigt: kein Blatt ist aufgeführt
written in cm, but its unit is {id}
  in cm geschrieben, aber als Einheit ist {id} angegeben
order {id}
  Auftrag {id}
{id}, tab {id2}
  {id}, Blatt {id2}
ball
  Ballen
`)
	for english, want := range map[string]string{
		"cut_on is not a day":                             "cut_on ist kein Tag",
		"is empty; cut_on is not a day":                   "ist leer; cut_on ist kein Tag",
		"Nothing waits. Cut_on is not a day":              "Nichts wartet. Cut_on ist kein Tag",
		"The line is: 17; no day":                         "Die Zeile lautet: 17; no day",
		"Ledger of Ann.xlsx: is damaged: it lists no tab": "Ledger of Ann.xlsx: ist beschädigt: kein Blatt ist aufgeführt",
		"order 17":                   "Auftrag 17",
		"Order ledger.xlsx":          "Order ledger.xlsx",
		"Order ledger.xlsx, tab old": "Order ledger.xlsx, Blatt old",
		"Ball (left).csv":            "Ball (left).csv",
		"written in cm, but its unit is in; is empty": "in cm geschrieben, aber als Einheit ist in angegeben; ist leer",
		"a.csv line 4: is damaged: it lists no tab":   "a.csv, Zeile 4: ist beschädigt: kein Blatt ist aufgeführt",
		"no word; of it is not a day":                 "no word; of it ist kein Tag",
	} {
		assert.Equal(t, want, l.Text(english), english)
	}
}

func TestPageIsSaid(t *testing.T) {
	l := sample(t, `
<1>{n} pairs</1> made again so far, one by one.
  Eines nach dem anderen: <1>{n} Paare</1>, die bisher neu gemacht wurden.
Write <1/> and press Enter.
  Die Eingabetaste drücken, nachdem <1/> dasteht.
See <1>the rules</1>.
  <1>Die Regeln</1> ansehen.
<2>Old</2> or <3>new</3>?
  <3>Neu</3> oder <2>alt</2>?
holds: {text}
  hält: {text}
{n} (of {n2})
  {n} (von {n2})
Find
  Suchen
`)
	page := `<!doctype html><html lang="en"><body><p><a href="/o">12 pairs</a> made again so far,
 one by one.</p><p>Write <code>a &lt; b</code> and press Enter.</p><p translate="no">Find</p><button title="Find" class="x">Find</button><textarea>Find</textarea><optgroup label="Find"></optgroup></body></html>`
	said, untold := l.Page([]byte(page))
	assert.Empty(t, untold)
	assert.Equal(t, `<!doctype html><html lang="de"><body><p>Eines nach dem anderen: <a href="/o">12 Paare</a>, die bisher neu gemacht wurden.</p><p>Die Eingabetaste drücken, nachdem <code>a &lt; b</code> dasteht.</p><p translate="no">Find</p><button title="Suchen" class="x">Suchen</button><textarea>Find</textarea><optgroup label="Suchen"></optgroup></body></html>`, string(said))
	said, untold = l.Page([]byte(`<p><i>Find</i>. See <a href="/r">the rules</a>. <b>Old</b> or <b class="n">new</b>?</p>`))
	assert.Empty(t, untold)
	assert.Equal(t, `<p><i>Suchen</i>. <a href="/r">Die Regeln</a> ansehen. <b class="n">Neu</b> oder <b>alt</b>?</p>`, string(said), "marks count from each sentence's beginning")
	parts, untold := l.Page([]byte("<p><b>Find</b> <i>Find. Find.</i></p><th>Find\u00a0<i>mm</i></th>"))
	assert.Empty(t, untold)
	assert.Equal(t, "<p><b>Suchen</b> <i>Suchen. Suchen.</i></p><th>Suchen\u00a0<i>mm</i></th>", string(parts))
	said, untold = l.Page([]byte(`<p>A sentence of ours. <small>[holds: 3.5]</small> Nobody says it. <small>[holds: 4 (of 5)]</small></p>`))
	assert.Len(t, untold, 2)
	assert.Equal(t, `<p>A sentence of ours. <small>[hält: 3,5]</small> Nobody says it. <small>[hält: 4 (von 5)]</small></p>`, string(said), "what a notebook says of its writer's sentences")
	same, _ := l.Page([]byte(`<html lang="fr"><p>Find</p></html>`))
	assert.Equal(t, `<html lang="fr"><p>Find</p></html>`, string(same))
}

// A title beside its text, or beside its unit, is a sentence of its own.
func TestTitlesAreSaidApart(t *testing.T) {
	l := sample(t, "Find\n  Suchen\nNothing waits.\n  Nichts wartet.\nMore waits.\n  Mehr wartet.\n")
	said, untold := l.Page([]byte(`<p><b>Find</b> <i>Nothing waits. More waits.</i></p><p>Find&nbsp;<i>mm</i></p>`))
	assert.Empty(t, untold)
	assert.Equal(t, "<p><b>Suchen</b> <i>Nichts wartet. Mehr wartet.</i></p><p>Suchen\u00a0<i>mm</i></p>", string(said))
}

// A figure holds its texts to their English lengths: a longer one is drawn closer, a shorter
// one is not drawn out.
func TestLettersOfAFigure(t *testing.T) {
	l := sample(t, "usual\n  üblicherweise\nmade again\n  neu\n")
	said, _ := l.Page([]byte(`<svg><text x="1" font-size="10" textLength="24.5">usual</text><text font-size="10" textLength="60" fill="red">made again</text><title>usual</title></svg>`))
	assert.Equal(t, `<svg><text x="1" font-size="10" textLength="24.5">üblicherweise</text><text font-size="10" textLength="16.685" fill="red">neu</text><title>üblicherweise</title></svg>`, string(said))
}

// Texts of a drawing are as long as they are in the language, where there is room.
func TestTextsOfADrawingHaveTheirOwnLength(t *testing.T) {
	l := sample(t, `
mm
  mmmm
mmmm
  mm
`)
	drawing := func(texts string) string {
		return `<svg viewBox="0 0 200 50">` + strings.ReplaceAll(texts, ` textLength`, ` font-size="12" textLength`) + `</svg>`
	}
	for texts, want := range map[string]string{
		`<text x="10" y="-20" textLength="20" lengthAdjust="spacing">mm</text>`:                                       `<text x="10" y="-20" textLength="39.984" lengthAdjust="spacing">mmmm</text>`,
		`<text x="10" y="-20" textLength="40">mmmm</text>`:                                                            `<text x="10" y="-20" textLength="19.992">mm</text>`,
		`<text x="10" y="-20" textLength="20">no word</text>`:                                                         `<text x="10" y="-20" textLength="20">no word</text>`,
		`<text x="10" y="-20" textLength="20">mm</text><text x="76" y="-20" textLength="9">7</text>`:                  `<text x="10" y="-20" textLength="30">mmmm</text><text x="76" y="-20" textLength="9">7</text>`,
		`<text x="10" y="-20" textLength="20">mm</text><text x="76" y="-40" textLength="9">7</text>`:                  `<text x="10" y="-20" textLength="39.984">mmmm</text><text x="76" y="-40" textLength="9">7</text>`,
		`<text x="180" y="-20" textLength="20">mm</text>`:                                                             `<text x="180" y="-20" textLength="20">mmmm</text>`,
		`<text x="30" y="-20" textLength="20" text-anchor="end">mm</text>`:                                            `<text x="30" y="-20" textLength="30" text-anchor="end">mmmm</text>`,
		`<text x="190" y="-20" textLength="20" text-anchor="end">mm</text>`:                                           `<text x="190" y="-20" textLength="24" text-anchor="end">mmmm</text>`,
		`<text x="15" y="-20" textLength="20" text-anchor="middle">mm</text>`:                                         `<text x="15" y="-20" textLength="30" text-anchor="middle">mmmm</text>`,
		`<text x="9" y="-20" textLength="9">7</text><text x="60" y="-20" textLength="20" text-anchor="end">mm</text>`: `<text x="9" y="-20" textLength="9">7</text><text x="60" y="-20" textLength="36" text-anchor="end">mmmm</text>`,
	} {
		said, _ := l.Page([]byte(drawing(texts)))
		assert.Equal(t, drawing(want), string(said))
	}
}
