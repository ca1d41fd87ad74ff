package letter

import (
	"strings"
	"testing"

	"lastroom/analysis/form"
	"lastroom/reports/translation"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEnglishIsWhole(t *testing.T) {
	l, err := Words.Read(Words.Files[translation.English])
	require.NoError(t, err)
	assert.Empty(t, l.Missing)
	s := text(t, Write(l, oneLeg()))
	assert.NotContains(t, s, "{")
}

// Every language that comes with the program is whole.
func TestLanguagesAreWhole(t *testing.T) {
	for _, tag := range Words.Tags() {
		l, err := Words.Read(Words.Files[tag])
		require.NoError(t, err, tag)
		assert.Empty(t, l.Missing, tag)
		assert.Equal(t, tag, l.Say("lang"))
	}
}

// Days and decimals are written as the language does.
func TestGermanLetter(t *testing.T) {
	a := oneLeg()
	a.Received, a.Unit = day, form.Centimetre
	a.Places = []form.Place{place(form.Left, form.Bare, form.Leg, 279.4)}
	s := text(t, Write(Words.Language("de"), a))
	assert.Contains(t, s, "03.09.2026")
	assert.Contains(t, s, "Beinumfang in 27,9 cm Höhe")
	assert.NotContains(t, s, "{")
}

func TestTranslation(t *testing.T) {
	l, err := Words.Read([]byte("lang: de\ntitle: Bitte noch einmal messen\nleg: >-\n  Beinumfang in {height}\n  über dem Boden\n"))
	require.NoError(t, err)
	s := text(t, Write(l, oneLeg()))
	assert.Contains(t, s, "BITTE NOCH EINMAL MESSEN")
	assert.Contains(t, s, "Beinumfang in 11 in über dem Boden")
	assert.Contains(t, s, "Ball girth", "what is left out stays English")
	assert.Contains(t, l.Missing, "ball")
	assert.NotContains(t, l.Missing, "title")
}

func TestRefusedLanguages(t *testing.T) {
	for text, want := range map[string]string{
		"title: A\nheadline: B\n":         `line 2: there is no text "headline"`,
		"title: A\ntitle: B\n":            "title",
		"title: A\n\nball:\n":             `line 3: "ball" is empty`,
		"leg: Leg girth\n":                `line 1: "leg" must hold {height}`,
		"ball: Ball {height}\n":           `line 1: "ball" must hold {height} just where`,
		"direction: up\n":                 "ltr or rtl",
		"decimal: \"'\"\n":                "decimal is . or ,",
		"lang: \"en\\\" onload=x\"\n":     "language tag",
		"- a\n- b\n":                      "can't be read",
		"just text":                       "can't be read",
		"\x00\x01: [":                     "can't be read",
		"!0 000":                          "can't be read",
		strings.Repeat("a: b\n", 100_000): "larger",
	} {
		_, err := Words.Read([]byte(text))
		require.Error(t, err, "%.40q", text)
		assert.Contains(t, err.Error(), want)
	}
}

func FuzzReadLanguage(f *testing.F) {
	f.Add(string(Words.Files[translation.English]))
	f.Add("leg: Bein {height}\n")
	f.Add("!0 000")
	f.Add("a: &x [*x]\n")
	f.Fuzz(func(t *testing.T, s string) {
		l, err := Words.Read([]byte(s))
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		printed(t, Write(l, oneLeg()))
	})
}
