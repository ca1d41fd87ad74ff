package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

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

var made string // the folder of demoDir, once it is there

// demoOrders is how many orders the invented workshop has every day.
const demoOrders = "300"

// demoDir is what all tests may read, made once, a folder for each shop: demo is the
// invented workshop with its review, of few orders every day; small, there in a wide run, is
// one whose book has no review yet, for what is computed anew and takes longer with every
// order; few is for loads and for all that any book will do for. What the program said when
// it made them stands in demo.txt, and in few.json and small.json.
var demoDir = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "lastroom-test-")
	if err != nil {
		return "", err
	}
	made = dir
	how, others := []string{"demo", "--dir", filepath.Join(dir, "demo"), "--orders", demoOrders}, map[string]int{"few": 40}
	if breadth.Wide() {
		how, others = how[:3], map[string]int{"few": 100, "small": 500}
	}
	invent := func(said string, args ...string) error {
		var out, errs bytes.Buffer
		if status := run(context.Background(), strings.NewReader(""), &out, &errs, args); status != 0 {
			return errors.New(errs.String())
		}
		return os.WriteFile(filepath.Join(dir, said), out.Bytes(), 0o600)
	}
	if err := invent("demo.txt", how...); err != nil {
		return dir, err
	}
	for shop, orders := range others {
		sheets := filepath.Join(dir, shop, "sheets")
		if _, err := demo.Write(sheets, demo.Options{Seed: 1, Orders: orders}); err != nil {
			return dir, err
		}
		if err := invent(shop+".json", "load", "--format", "json", "--book", filepath.Join(dir, shop, "shop.duckdb"), sheets); err != nil {
			return dir, err
		}
	}
	return dir, nil
})

// TestScripts runs the scenarios in testdata. $DEMO is the folder of a shop, made with $ORDERS
// orders every day, $SAID what was said then, $FEW sheets; scripts only read them. What stands behind [wide] takes long, or says once more in another
// format, in other words of mistaken use, or of a large shop what is said already.
func TestScripts(t *testing.T) {
	dir, err := demoDir()
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"status": status, "book": copyBook, "shop": copyShop},
		Condition: func(name string) (bool, error) {
			if name != "wide" {
				return false, fmt.Errorf("there is no condition %q", name)
			}
			return breadth.Wide(), nil
		},
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", filepath.Join(dir, "demo"))
			e.Setenv("FEW", filepath.Join(dir, "few", "sheets"))
			e.Setenv("ORDERS", demoOrders)
			e.Setenv("SAID", filepath.Join(dir, "demo.txt"))
			return nil
		},
	})
}

// word is a word of an example as a shell takes it, quotes and all.
var word = regexp.MustCompile(`"[^"]*"|\S+`)

// Every example of every command's help works where the demo was made, one
// after another as they are listed. The demo is the first, and made small. In a run that is
// not wide the first example of each command, where the demo is a copy of what is there
// already, with its findings; of others what is quick. Numbers in what they print are numbers.
func TestExamples(t *testing.T) {
	dir := t.TempDir()
	if !breadth.Wide() {
		shop, err := demoDir()
		require.NoError(t, err)
		require.NoError(t, copyAsItWas(filepath.Join(shop, "demo"), filepath.Join(dir, "demo")))
	}
	t.Chdir(dir)
	t.Setenv("PATH", pathWithoutBrowser()) // the script run prints a PDF
	for _, c := range commands() {
		require.NotEmpty(t, c.Example, c.Name())
		if c.Name() == "serve" || c.Name() == "open" {
			continue // runs until it is stopped; its own tests start it
		}
		if c.Name() == "demo" && !breadth.Wide() {
			continue // testdata/demo.txtar makes one
		}
		for no, e := range strings.Split(c.Example, "\n") {
			if no > 0 && !breadth.Wide() {
				break
			}
			words := word.FindAllString(e, -1)
			for i := range words {
				words[i] = strings.Trim(words[i], `"`)
			}
			require.Equal(t, "lastroom", words[0])
			if c.Name() == "demo" {
				words = append(words, "--orders", "300")
			}
			if !breadth.Wide() && (c.Name() == "silence" || c.Name() == "unjudged") {
				words = append(words, "--quick")
			}
			status, out, errs := said(t, words[1:]...)
			require.Contains(t, []int{workshop.ExitDone, workshop.ExitHeld}, status, "%s: %s", e, errs)
			require.NotEmpty(t, out+errs, e)
			hasFigures(t, out+errs, e)
		}
	}
}

// copyBook gives a script a book of its own with its kept sheets, without what was computed
// of it but for the risk model, which takes long: book demo shop.
func copyBook(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("use: book SHOP NAME")
	}
	dir, err := demoDir()
	ts.Check(err)
	shop := args[0]
	if shop == "small" && !breadth.Wide() {
		shop = "demo"
	}
	from, to := bookfile.FilesOf(filepath.Join(dir, shop, "shop.duckdb")), bookfile.FilesOf(ts.MkAbs(args[1]+".duckdb"))
	parts := map[string]string{from.Book: to.Book, from.Snapshot(): to.Snapshot(), from.Ledger(): to.Ledger()}
	for _, folder := range []string{"sheets", "models"} {
		parts[filepath.Join(from.Dir, folder)] = filepath.Join(to.Dir, folder)
	}
	for old, own := range parts {
		if err := copyAsItWas(old, own); !errors.Is(err, fs.ErrNotExist) {
			ts.Check(err)
		}
	}
}

// copyShop gives a script a folder of its own with the invented workshop and all that was
// computed of it: shop mine.
func copyShop(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("use: shop NAME")
	}
	dir, err := demoDir()
	ts.Check(err)
	ts.Check(copyAsItWas(filepath.Join(dir, "demo"), ts.MkAbs(args[0])))
}

// copyAsItWas copies a file or a folder, times and all: by its time a book's snapshot is
// known to be of it, and a copy with another time has it made again.
func copyAsItWas(from, to string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		own := filepath.Join(to, rel)
		if err != nil || d.IsDir() {
			return errors.Join(err, os.MkdirAll(own, 0o700))
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return errors.Join(os.MkdirAll(filepath.Dir(own), 0o700), os.WriteFile(own, text, info.Mode()), os.Chtimes(own, info.ModTime(), info.ModTime()))
	})
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
