package main

import (
	"flag"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFlagsAfterArguments(t *testing.T) {
	fs := flag.NewFlagSet("x", flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	book := fs.String("book", "", "")
	quick := fs.Bool("quick", false, "")
	rest, err := parse(fs, []string{"a", "--book", "b.duckdb", "c", "-quick", "--", "--d"})
	require.NoError(t, err)
	require.Equal(t, []string{"a", "c", "--d"}, rest)
	require.Equal(t, "b.duckdb", *book)
	require.True(t, *quick)
	_, err = parse(fs, []string{"--quick=false", "--book=x=y"})
	require.NoError(t, err)
	require.False(t, *quick)
	require.Equal(t, "x=y", *book)
}

func TestFlagMistakes(t *testing.T) {
	fs := flag.NewFlagSet("x", flag.ContinueOnError)
	readingFlags(fs)
	costFlags(fs)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--boook", "x"}, "there is no flag --boook; did you mean --book?"},
		{[]string{"--zzzzzzzz"}, "there is no flag --zzzzzzzz"},
		{[]string{"--book"}, "--book needs a value"},
		{[]string{"--as-of", "30.9.2026"}, `--as-of: "30.9.2026" is not a day; write it as 2026-09-30`},
		{[]string{"--as-of", "2026-02-30"}, `--as-of: "2026-02-30" is not a day; write it as 2026-09-30`},
		{[]string{"--mature-days", "0"}, `--mature-days: "0" is not a whole number from 1 up`},
		{[]string{"--mature-days", "9x"}, `--mature-days: "9x" is not a whole number from 1 up`},
		{[]string{"--format", "xml"}, `--format: "xml" is none of text, csv, json`},
		{[]string{"--cost-remake", "-1"}, `--cost-remake: "-1" is not an amount, as 420 or 14.50`},
		{[]string{"--cost-remake", "NaN"}, `--cost-remake: "NaN" is not an amount, as 420 or 14.50`},
	} {
		_, err := parse(fs, c.args)
		require.EqualError(t, err, c.want)
	}
}

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"load", "", 4}, {"load", "laod", 1}, {"faults", "fault", 1}, {"ruels", "rules", 1}, {"rewiev", "review", 2}} {
		require.Equal(t, c.want, distance(c.a, c.b), "%s %s", c.a, c.b)
		require.Equal(t, c.want, distance(c.b, c.a), "%s %s", c.b, c.a)
	}
}
