package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is wrong with a command line, or with the files that it names, is said in the
// language that was asked for, whole.
func TestErrorsAreSaidInGerman(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.Mkdir("leer", 0o700))
	require.NoError(t, os.WriteFile("text.duckdb", []byte("hello"), 0o600))
	require.NoError(t, os.WriteFile("orders.csv", []byte("a;b\n1;2\n"), 0o600))
	for _, c := range []struct {
		args, want string
		status     int
	}{
		{"reveiw --language de", "es gibt keinen Befehl „reveiw“; meinten Sie review?\nSiehe: lastroom --help", 2},
		{"loda --book x --language de", "es gibt keinen Befehl „loda“; meinten Sie load?\nSiehe: lastroom --help", 2},
		{"faults --boook x --language=de", "es gibt keinen Schalter --boook; meinten Sie --book?\nSiehe: lastroom faults --help", 2},
		{"faults --language de --as-of 31.12.2025", "--as-of: „31.12.2025“ ist kein Tag; schreiben Sie ihn wie 2026-09-30\nSiehe: lastroom faults --help", 2},
		{"review --month September --language de", "--month: „September“ ist kein Monat; schreiben Sie ihn wie 2026-09\nSiehe: lastroom review --help", 2},
		{"faults --language de extra", "faults nimmt kein „extra“\nSiehe: lastroom faults --help", 2},
		{"faults --language de --format pdf", "--format: „pdf“ ist keines von text, csv, json\nSiehe: lastroom faults --help", 2},
		{"faults --language de --mature-days no", "--mature-days: „no“ ist keine ganze Zahl ab 1\nSiehe: lastroom faults --help", 2},
		{"load --language de", "sagen Sie, welche Tabellen einzulesen sind: Dateien oder Ordner\nSiehe: lastroom load --help", 2},
		{"load --language de nix.csv", "die Tabellen sind nicht zu finden: es gibt keine Datei und keinen Ordner nix.csv", 3},
		{"load --language de leer", "nichts wurde eingelesen: keine Auftragstabelle unter leer; mit Tabellen, wie Sie sie führen, beginnen Sie bei lastroom layout", 3},
		{"load --language de orders.csv", "orders.csv, Zeile 1: hat keine Spalte order_id, die die Tabelle orders braucht", 3},
		{"load --language de --map nix.yaml leer", "nix.yaml lässt sich nicht lesen: es gibt keine Datei und keinen Ordner nix.yaml", 3},
		{"faults --language de", "es gibt kein Auftragsbuch shop.duckdb; legen Sie eines an mit: lastroom load --book shop.duckdb TABELLEN…\nOder sehen Sie sich erst ein erfundenes an: lastroom demo", 3},
		{"faults --language de --book text.duckdb", "das ist kein Auftragsbuch: text.duckdb; eingelesen wird in eines mit lastroom load --book DATEI TABELLEN…", 3},
		{"sheet --language de --shaft-height 14", "--shaft-height \"14\": hat keine Einheit; geben Sie mm, cm oder in an\nSiehe: lastroom sheet --help", 2},
	} {
		t.Run(c.args, func(t *testing.T) {
			var stderr bytes.Buffer
			assert.Equal(t, c.status, run(t.Context(), strings.NewReader(""), &bytes.Buffer{}, &stderr, strings.Fields(c.args)))
			_, said, found := strings.Cut(stderr.String(), "lastroom: ")
			assert.True(t, found)
			assert.Equal(t, c.want, strings.TrimSpace(said))
		})
	}
}

// What the system says of files is said without its calls.
func TestSystemCallsAreNotNamed(t *testing.T) {
	t.Chdir(t.TempDir())
	for args, want := range map[string]string{
		"load nowhere.csv":          "can't find the sheets: there is no file or folder nowhere.csv",
		"load --map nowhere.yaml x": "can't read nowhere.yaml: there is no file or folder nowhere.yaml",
		"sheet --language fr":       "there is no file or folder fr; de, en come with the program",
	} {
		var stderr bytes.Buffer
		assert.Equal(t, 3, run(t.Context(), strings.NewReader(""), &bytes.Buffer{}, &stderr, strings.Fields(args)), args)
		assert.Contains(t, stderr.String(), want)
	}
	if os.Geteuid() == 0 {
		return // may write everywhere
	}
	locked := filepath.Join(t.TempDir(), "locked")
	require.NoError(t, os.Mkdir(locked, 0o500))
	var stderr bytes.Buffer
	assert.Equal(t, 3, run(t.Context(), strings.NewReader(""), &bytes.Buffer{}, &stderr, []string{"template", filepath.Join(locked, "new")}))
	assert.Contains(t, stderr.String(), "no permission to read or write "+filepath.Join(locked, "new"))
}
