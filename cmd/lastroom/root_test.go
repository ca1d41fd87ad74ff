package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/page"
)

// all are the commands that do something, below c.
func all(c *cobra.Command) (list []*cobra.Command) {
	for _, sub := range c.Commands() {
		switch {
		case sub.Name() == "completion": // the library's
		case sub.HasSubCommands():
			list = append(list, all(sub)...)
		case sub.IsAvailableCommand():
			list = append(list, sub)
		}
	}
	return list
}

func commands() []*cobra.Command { return all((&app{}).root()) }

// said runs the program and gives its status and what it printed.
func said(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(t.Context(), strings.NewReader(""), &o, &e, args)
	return status, o.String(), e.String()
}

func TestFlagMistakes(t *testing.T) {
	for line, want := range map[string]string{
		"faults --boook x":          "there is no flag --boook; did you mean --book?",
		"faults -quick":             "there is no flag -quick; did you mean --quick?",
		"faults --zzzzzzzz":         "there is no flag --zzzzzzzz",
		"faults --book":             "--book needs a value",
		"faults --quick=perhaps":    `--quick: "perhaps" is neither true nor false`,
		"faults --as-of 30.9.2026":  `--as-of: "30.9.2026" is not a day; write it as 2026-09-30`,
		"faults --as-of 2026-02-30": `--as-of: "2026-02-30" is not a day; write it as 2026-09-30`,
		"faults --mature-days 0":    `--mature-days: "0" is not a whole number from 1 up`,
		"faults --mature-days 9x":   `--mature-days: "9x" is not a whole number from 1 up`,
		"faults --format xml":       `--format: "xml" is none of text, csv, json`,
		"rules --cost-remake -1":    `--cost-remake: "-1" is not an amount, as 420 or 14.50`,
		"rules --cost-remake NaN":   `--cost-remake: "NaN" is not an amount, as 420 or 14.50`,
		"check --false-alarms 2":    `--false-alarms: "2" is not a share between 0 and 0.5, as 0.01`,
		"run --set x":               `--set: "x" is not of the form name=value`,
		"help laod":                 `there is no command "laod"; did you mean load?`,
		"help book verfy":           `there is no "verfy" under book; did you mean verify?`,
	} {
		status, out, errs := said(t, strings.Fields(line)...)
		require.Equal(t, workshop.ExitUsage, status, line)
		require.Empty(t, out, line)
		command := "lastroom " + strings.Fields(line)[0]
		if strings.HasPrefix(line, "help") {
			command = strings.TrimSuffix("lastroom "+strings.Join(strings.Fields(line)[1:len(strings.Fields(line))-1], " "), " ")
		}
		require.Equal(t, "lastroom: "+want+"\nSee: "+command+" --help\n", errs)
	}
}

// Flags stand before, between and after what is not a flag; behind -- nothing
// is one.
func TestFlagsAnywhere(t *testing.T) {
	for _, line := range []string{"--book none.duckdb book backup --format json folder", "book --book none.duckdb backup folder", "book backup folder --book none.duckdb", "book backup --book=none.duckdb -- --folder"} {
		status, _, errs := said(t, strings.Fields(line)...)
		require.Equal(t, workshop.ExitBadInput, status, line)
		require.Contains(t, errs, "there is no order book none.duckdb", line)
	}
}

// Each command explains itself with an example, in lines that fit.
func TestHelp(t *testing.T) {
	for _, c := range append(commands(), (&app{}).root()) {
		args := append(strings.Fields(nameOf(c)), "--help")
		status, out, errs := said(t, args...)
		require.Zero(t, status)
		require.Empty(t, errs)
		if c.HasParent() {
			require.Contains(t, out, "$ lastroom "+nameOf(c))
		}
		require.NotContains(t, out, "%!")
		for _, line := range strings.Split(out, "\n") {
			if !strings.HasPrefix(line, "    $ ") { // commands to copy may be longer
				require.LessOrEqual(t, len([]rune(line)), page.UsualWidth, line)
			}
		}
	}
	status, out, _ := said(t, "book", "--help")
	require.Zero(t, status)
	require.Contains(t, out, "forget")
}

// Each shell gets a script, and what it asks while a person types is answered.
func TestCompletion(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		status, out, errs := said(t, "completion", shell)
		require.Zero(t, status, errs)
		require.Contains(t, out, "lastroom", shell)
	}
	for line, want := range map[string]string{
		"fau":              "faults",
		"book ver":         "verify",
		"faults --form":    "--format",
		"faults --format ": "csv",
		"run mon":          "monthly-review",
		"load --book ":     ":8",  // files with the book's ending
		"review --out ":    ":16", // folders
	} {
		words := append([]string{"__complete"}, strings.Split(line, " ")...)
		status, out, _ := said(t, words...)
		require.Zero(t, status, line)
		require.Contains(t, out, want, line)
	}
}
