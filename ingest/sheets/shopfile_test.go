package sheets

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBookBeginsIsADay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.yaml")
	read := func(text string) ([]Setting, error) {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return ReadSettings(path)
	}
	for _, day := range []string{"2024-03-01", `"2024-03-01"`} {
		got, err := read("book_begins: " + day + "\n")
		require.NoError(t, err)
		assert.Equal(t, []Setting{{"book_begins", "2024-03-01"}}, got)
	}
	for _, wrong := range []string{"March 2024", "2024-13-01", "[2024-03-01]", ""} {
		_, err := read("heel_girth: long\nbook_begins: " + wrong + "\n")
		require.ErrorContains(t, err, "shop.yaml line 2", wrong)
		require.ErrorContains(t, err, "write it as 2024-03-01", wrong)
	}
}

func TestCurrencyIsASign(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.yaml")
	read := func(text string) ([]Setting, error) {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return ReadSettings(path)
	}
	for _, sign := range []string{"€", "$", "CHF", "kr."} {
		got, err := read("currency: " + sign + "\n")
		require.NoError(t, err)
		assert.Equal(t, []Setting{{"currency", sign}}, got)
	}
	for _, wrong := range []string{"euros", "5", "[€]", `""`, "<b>"} {
		_, err := read("currency: " + wrong + "\n")
		require.ErrorContains(t, err, "no sign of a currency", wrong)
	}
}

func TestHoldShare(t *testing.T) {
	file := filepath.Join(t.TempDir(), "shop.yaml")
	require.NoError(t, os.WriteFile(file, []byte("hold_share: 0.2\n"), 0o600))
	got, err := ReadSettings(file)
	require.NoError(t, err)
	assert.Equal(t, []Setting{{"hold_share", "0.2"}}, got)
	for _, wrong := range []string{"20 %", "0", "1", "NaN", "many"} {
		require.NoError(t, os.WriteFile(file, []byte("hold_share: "+wrong+"\n"), 0o600))
		_, err := ReadSettings(file)
		assert.ErrorContains(t, err, "line 1", wrong)
		assert.ErrorContains(t, err, "is no share", wrong)
	}
}
