package sheets

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

func intake(t testing.TB, name, text string) (*Table, error) {
	dir := t.TempDir()
	path := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	table, err := Intake(context.Background(), path, filepath.Join(dir, "kept"))
	if err != nil {
		return nil, err
	}
	return table, table.ReadHeader()
}

func TestSeparators(t *testing.T) {
	for text, sep := range map[string]byte{
		"order_id,customer_id\n":               ',',
		"order_id;customer_id\n":               ';',
		"order_id\tcustomer_id\r\n":            '\t',
		"\xef\xbb\xbforder_id;customer_id\n":   ';',
		"\"Order, the id\";order_id;channel\n": ';',
		"order_id\n":                           ',',
		"order_id;note, and more, and more\n":  ';',
	} {
		table, err := intake(t, "orders.csv", text)
		require.NoError(t, err, text)
		assert.Equal(t, string(sep), string(table.Sep), text)
	}
}

func TestMatchForgivesSpelling(t *testing.T) {
	orders, _ := SheetNamed("Orders")
	l, err := Match(orders, []string{" Order-ID ", "SHAFT height (in)", "Shaft Height-CM", "received_on", "colour"})
	require.NoError(t, err)
	assert.Equal(t, Cell{0, form.NoUnit}, l.Cells[0])
	assert.Equal(t, Cell{2, form.Centimetre}, l.Cells[5])
	assert.Equal(t, []string{"SHAFT height (in)", "colour"}, l.Unknown)
}

func TestParseDay(t *testing.T) {
	for _, good := range []string{"2026-09-30", "2024-02-29", "1900-01-01"} {
		d, err := ParseDay(good)
		require.NoError(t, err)
		assert.Equal(t, good, d.Format("2006-01-02"))
	}
	for _, bad := range []string{"", "30.09.2026", "2026-9-30", "2026-13-01", "2025-02-29", "0026-01-01", "2026-09-30 10:00", "９"} {
		_, err := ParseDay(bad)
		assert.Error(t, err, bad)
	}
}

func TestParseYesNo(t *testing.T) {
	for text, want := range map[string][2]bool{"yes": {true, true}, "N": {false, true}, "TRUE": {true, true}, "0": {false, true},
		"unknown": {false, false}, "": {false, false}} {
		yes, known, err := parseYesNo(text)
		require.NoError(t, err)
		assert.Equal(t, want, [2]bool{yes, known}, text)
	}
	_, _, err := parseYesNo("maybe")
	assert.Error(t, err)
}

func TestParseWords(t *testing.T) {
	orders, _ := SheetNamed("orders")
	closure, _ := orders.Column("closure")
	sock, _ := orders.Column("sock")
	for text, want := range map[string]string{"Pull On": "pull-on", "LACE_UP": "lace-up", "zip": "zip"} {
		v, err := closure.Parse(text, form.NoUnit, lengths.Options{})
		require.NoError(t, err)
		assert.Equal(t, want, v.Text)
	}
	_, err := sock.Parse("woolly", form.NoUnit, lengths.Options{})
	assert.ErrorContains(t, err, "none of thin, medium, thick")
}

func FuzzHeader(f *testing.F) {
	f.Add("order_id,customer_id\nO1,C1\n")
	f.Add("\xef\xbb\xbfform_id;\"value\n_in\"\r\n\"a\"\"b\";1\r\n")
	f.Add("\"")
	f.Add("a\tb\r1\t2\r")
	f.Fuzz(func(t *testing.T, text string) {
		table, err := intake(t, "orders.csv", text)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.NotEmpty(t, table.Header)
		for _, s := range Catalogue {
			if l, err := Match(s, table.Header); err == nil {
				for _, c := range l.Cells {
					require.Less(t, c.At, len(table.Header))
				}
			}
		}
		n := int64(0)
		require.NoError(t, table.Records(nil, nil, func(r Record) bool {
			require.True(t, r.No == n || r.No == -1)
			if r.No >= 0 {
				n++
			}
			return true
		}))
		require.LessOrEqual(t, n, int64(strings.Count(text, "\n")+strings.Count(text, "\r")+1))
	})
}

func FuzzParseDay(f *testing.F) {
	for _, s := range []string{"2026-09-30", "2026-02-30", "", "9999-99-99", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseDay(s); err == nil {
			require.Equal(t, s, d.Format("2006-01-02"))
		}
	})
}
