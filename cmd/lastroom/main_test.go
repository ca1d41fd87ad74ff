package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/ingest/demo"
	"lastroom/ingest/sandbox"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"lastroom/cmd/lastroom/workshop"
)

func TestMain(m *testing.M) {
	sandbox.Main()
	workshop.Main()
	becomeStepped()
	testscript.Main(tidy{m}, map[string]func(){"lastroom": main})
}

// tidy removes the invented workshop after the tests.
type tidy struct{ *testing.M }

func (t tidy) Run() int {
	defer func() {
		closeBrowser()
		if shown.stop != nil {
			shown.stop()
		}
		if made != "" {
			os.RemoveAll(made)
		}
	}()
	return t.M.Run()
}

var made string // the folder of demoDir, once it is there

// demoDir is an invented workshop that all tests may read, made once: its folder
// demo, and a folder few of sheets where many rows would show nothing more.
var demoDir = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "lastroom-test-")
	if err != nil {
		return "", err
	}
	made = dir
	// Few resamples: what is read from it is its form, not how narrow an interval is.
	_, err = workshop.Invent(context.Background(), filepath.Join(dir, "demo"), demo.Options{Seed: 1},
		workshop.Finding{AsOf: cohort.NoDay, Replicates: 40}, nil, time.Now, workshop.Silent)
	if err != nil {
		return dir, err
	}
	_, err = demo.Write(filepath.Join(dir, "few"), demo.Options{Seed: 1, Orders: 100})
	return dir, err
})

// TestScripts runs the scenarios in testdata. $DEMO is the invented workshop's
// folder, $FEW the one of few sheets; scripts only read them.
func TestScripts(t *testing.T) {
	dir, err := demoDir()
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"status": status},
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", filepath.Join(dir, "demo"))
			e.Setenv("FEW", filepath.Join(dir, "few"))
			return nil
		},
	})
}

// word is a word of an example as a shell takes it, quotes and all.
var word = regexp.MustCompile(`"[^"]*"|\S+`)

// Every example of every command's help works where the demo was made, one
// after another as they are listed. The demo is the first, and made small.
func TestExamples(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, c := range commands() {
		require.NotEmpty(t, c.Example, c.Name())
		if c.Name() == "serve" || c.Name() == "open" {
			continue // runs until it is stopped; its own tests start it
		}
		for _, e := range strings.Split(c.Example, "\n") {
			words := word.FindAllString(e, -1)
			for i := range words {
				words[i] = strings.Trim(words[i], `"`)
			}
			require.Equal(t, "lastroom", words[0])
			if c.Name() == "demo" {
				words = append(words, "--orders", "300")
			}
			status, out, errs := said(t, words[1:]...)
			require.Contains(t, []int{workshop.ExitDone, workshop.ExitHeld}, status, "%s: %s", e, errs)
			require.NotEmpty(t, out+errs, e)
		}
	}
}

// status runs a program and wants this exit status: status 3 lastroom faults.
// Its output can be looked at afterwards like exec's.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("use: status N PROGRAM ARGS…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// say runs the program as a process of its own and gives what it printed.
func say(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	c := exec.Command("lastroom", args...)
	c.Stdout, c.Stderr = &out, &errs
	require.NoError(t, c.Run(), "%v: %s%s", args, errs.String(), out.String())
	return out.String()
}
