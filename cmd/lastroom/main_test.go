package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
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
		for _, s := range []*sharedShop{&shown, &used} {
			if s.stop != nil {
				s.stop()
			}
		}
		if made != "" {
			os.RemoveAll(made)
		}
	}()
	return t.M.Run()
}

// wide is whether a run checks all that there is to check, and not only what a person waits
// for before each commit: with CI=true, and in a campaign, which is wider still.
func wide() bool { return *campaign || breadth.Wide() }

var made string // the folder of demoDir, once it is there

// demoDir is what all tests may read, made once: the invented workshop in its folder demo,
// a small one in the folder small, whose book has no review yet, for what is computed anew
// and takes longer with every order, and sheets in a folder few for loads.
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
	if _, err := demo.Write(filepath.Join(dir, "few"), demo.Options{Seed: 1, Orders: 100}); err != nil {
		return dir, err
	}
	small := filepath.Join(dir, "small")
	if _, err := demo.Write(filepath.Join(small, "sheets"), demo.Options{Seed: 1, Orders: 500}); err != nil {
		return dir, err
	}
	var said bytes.Buffer
	if status := run(context.Background(), strings.NewReader(""), &said, &said, []string{"load", "--book", filepath.Join(small, "shop.duckdb"), filepath.Join(small, "sheets")}); status != 0 {
		err = errors.New(said.String())
	}
	return dir, err
})

// TestScripts runs the scenarios in testdata. $DEMO is the invented workshop's folder,
// $FEW sheets; scripts only read them. What stands behind [wide] takes long, or says
// again of a large shop what is said of a small one.
func TestScripts(t *testing.T) {
	dir, err := demoDir()
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"status": status, "book": copyBook},
		Condition: func(name string) (bool, error) {
			if name != "wide" {
				return false, fmt.Errorf("there is no condition %q", name)
			}
			return wide(), nil
		},
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
	t.Setenv("PATH", pathWithoutBrowser()) // the script run prints a PDF
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

// copyBook gives a script a book of its own, without what was computed of it but for the
// risk model, which takes long: book demo shop.
func copyBook(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("use: book FOLDER NAME")
	}
	dir, err := demoDir()
	ts.Check(err)
	from, to := bookfile.FilesOf(filepath.Join(dir, args[0], "shop.duckdb")), bookfile.FilesOf(ts.MkAbs(args[1]+".duckdb"))
	ts.Check(os.MkdirAll(to.Dir, 0o700))
	for old, own := range map[string]string{from.Book: to.Book, from.Snapshot(): to.Snapshot(), from.Ledger(): to.Ledger()} {
		text, err := os.ReadFile(old)
		ts.Check(err)
		ts.Check(os.WriteFile(own, text, 0o600))
	}
	const models = "models"
	if _, err := os.Stat(filepath.Join(from.Dir, models)); err == nil {
		ts.Check(os.CopyFS(filepath.Join(to.Dir, models), os.DirFS(filepath.Join(from.Dir, models))))
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

// program runs the program as a process of its own in a folder, where it finds no browser:
// it prints no PDF of a run then, which takes longer than most runs.
func program(dir string, args ...string) (out, errs string, status int) {
	var o, e bytes.Buffer
	c := exec.Command("lastroom", args...)
	c.Dir, c.Env, c.Stdout, c.Stderr = dir, append(os.Environ(), "PATH="+pathWithoutBrowser()), &o, &e
	if err := c.Run(); err != nil {
		e.WriteString(err.Error())
	}
	return o.String(), e.String(), c.ProcessState.ExitCode()
}

// pathWithoutBrowser is where programs are looked for, the folders of Chromium aside.
func pathWithoutBrowser() string {
	return strings.Join(slices.DeleteFunc(filepath.SplitList(os.Getenv("PATH")), func(dir string) bool {
		found, _ := filepath.Glob(filepath.Join(dir, "*chrom*"))
		return len(found) > 0
	}), string(os.PathListSeparator))
}
