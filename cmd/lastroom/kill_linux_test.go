//go:build linux && amd64

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/demo"
)

// A changer is a command that writes, or a request to the service that does.
type changer struct {
	name, args string
	book       string // the book it is about; "": shop.duckdb
	// asks is what is asked of the service that the command starts.
	asks func(base string) error
	// again are the statuses with which it may end when it is done once more.
	again []int
	// left looks at what stands there in the end.
	left func(t *testing.T, home string)
}

// changers are all that changes a file beside a book, or writes one out of it.
var changers = []changer{
	{name: "first load", args: "load --book new.duckdb early", book: "new.duckdb"},
	{name: "later load", args: "load --book shop.duckdb --rejects rejects.csv late"},
	{name: "mapped load", args: "load --book shop.duckdb --map wide/layout.yaml wide/fitting.csv"},
	{name: "audit", args: "audit --book shop.duckdb"},
	{name: "forget", args: "book forget --book shop.duckdb P00007", again: []int{0, 3}, left: nobodyLeft},
	{name: "backup", args: "book backup --book shop.duckdb out", left: func(t *testing.T, home string) {
		again := filepath.Join(t.TempDir(), "again.duckdb")
		say(t, "book", "restore", "--book", again, filepath.Join(home, "out"))
	}, again: []int{0, 3}},
	{name: "restore", args: "book restore --book again.duckdb safe", book: "again.duckdb", again: []int{0, 3}},
	{name: "export", args: "book export --book shop.duckdb out", again: []int{0, 3}},
	{name: "review", args: "review --book shop.duckdb --quick --out out"},
	{name: "run", args: "run --book shop.duckdb measurements"},
	{name: "run of a file, kept and written", args: "run --book shop.duckdb --out out note.md"},
	{name: "risk", args: "risk --book shop.duckdb"},
	{name: "demo", args: "demo --orders 60 --dir invented", book: "invented/shop.duckdb"},
	{name: "letters", args: "check --book shop.duckdb --letter out late/forms.csv late/orders.csv late/measurements.csv", again: []int{0, 1}},
	{name: "sheet to measure on", args: "sheet --shaft-height 14in --out out/sheet.html"},
	{name: "teaching sheets", args: "teach --out out/teach.html"},
	{name: "hand-over", args: "measurers --book shop.duckdb --hand-over M5 --out out/M5.html"},
	{name: "worksheet", args: "practice --worksheet out/worksheet.html"},
	{name: "sheets of a session", args: "session --instructor boss --measurers Ann --legs A,B --out out/session.html"},
	{name: "templates", args: "template out"},
	{name: "layout", args: "layout --out map.yaml wide/fitting.csv"},
	{name: "decision", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: decideOnce},
	{name: "rule switched on", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: switchOnce},
	{name: "form kept at the desk", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: keepFormOnce},
	{name: "measured in a session", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: tapeOnce},
	{name: "practised", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: practiseOnce},
	{name: "notebook saved", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: saveOnce},
	{name: "layout kept", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: keepLayoutOnce},
	{name: "sheets uploaded", args: "serve --book shop.duckdb --addr 127.0.0.1:0", asks: uploadOnce},
}

// alwaysKilled are the commands that are killed without -campaign, the first of them where
// a run is not wide: a load. What must not leave anything is killed every day within
// ./ingest/upkeep.
var alwaysKilled = []string{"later load", "forget", "decision", "restore", "run"}

var (
	killsPart = flag.String("kills", "", "kill and freeze only the commands whose name holds this")
	killsStep = flag.Int("kill-steps", 0, "kill and freeze at so many steps of each command, spread evenly (default 1, all with -campaign)")
	thawEvery = flag.Int("thaw-every", 1, "with -campaign: let the command go on after the frost at every so many of these steps, 0 at none")
)

// Every command that writes is frozen and killed before each of its calls that
// change a file: all calls are listed first by a run to its end. Of many writes to
// one file in a row the first, the middle and the last count. While it is frozen
// the book can be read, and another writer either has its turn or is told who is at
// work. After the kill the book is sound and as before or after, and the same
// command once more does what was left: the same book, and nothing lying about.
// -campaign does so at all steps of all commands, and lets each go on after a frost too.
// The steps of a command are taken side by side: each has a home of its own, and what they
// are held to is looked up before.
func TestKilledAndFrozenAtEachStep(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program many times")
	}
	t.Parallel()
	always := alwaysKilled
	if !breadth.Wide() {
		always = always[:1]
	}
	var table []string
	for _, c := range changers {
		if !strings.Contains(c.name, *killsPart) || *killsPart == "" && !breadth.Campaign() && !slices.Contains(always, c.name) {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			r := killingOf(t, c)
			every := len(r.steps)
			switch {
			case *killsStep > 0:
				every = min(*killsStep, every)
			case !breadth.Campaign():
				every = 1
			}
			t.Logf("%d steps, %d of them tried", len(r.steps), every)
			var kills, frosts, missed atomic.Int32
			t.Run("each", func(t *testing.T) {
				for i := range every {
					s := r.steps[(i*len(r.steps)+len(r.steps)/2)/every]
					t.Run(s.String(), func(t *testing.T) {
						t.Parallel()
						met := true
						ok := t.Run("killed", func(t *testing.T) { met = r.kill(t, s) })
						if !met && ok {
							missed.Add(1)
							return
						}
						kills.Add(1)
						frosts.Add(1)
						if breadth.Campaign() && *thawEvery > 0 && i%*thawEvery == 0 {
							t.Run("thawed", func(t *testing.T) { r.thaw(t, s) })
							frosts.Add(1)
						}
					})
				}
			})
			table = append(table, fmt.Sprintf("| %s | %d | %d | %d | %d |", c.name, len(r.steps), kills.Load(), frosts.Load(), missed.Load()))
			require.Less(t, int(missed.Load()), 1+len(r.steps)/4, "steps that did not come again")
		})
	}
	t.Logf("| command | steps | kills | frosts | steps that did not come again |\n|---|---:|---:|---:|---:|\n%s", strings.Join(table, "\n"))
}

// killed is what the tests that kill commands, or give them a full disk, make once.
var killed struct {
	sync.Mutex
	home   string              // a folder with a book and all that may stand beside it; never changed
	before []bookState         // what its book holds
	runs   map[string]*killing // by the name of the command
}

// killingOf is a command with all that it is held to, looked up once.
func killingOf(t *testing.T, c changer) *killing {
	t.Helper()
	killed.Lock()
	defer killed.Unlock()
	if killed.home == "" {
		killed.runs = map[string]*killing{}
		killed.home = killedHome(t)
	}
	if killed.runs[c.name] == nil {
		killed.runs[c.name] = newKilling(t, killed.home, c)
	}
	return killed.runs[c.name]
}

func killedHome(t *testing.T) string {
	t.Helper()
	dir, err := demoDir()
	require.NoError(t, err)
	home := filepath.Join(dir, "killed")
	in := func(name string) string { return filepath.Join(home, name) }
	whole, orders := breadth.Wide() || *killsPart != "", 20
	if whole {
		orders = 60
	}
	for name, o := range map[string]demo.Options{"early": {Seed: 3, Orders: orders, AsOf: demo.AsOf - 200}, "late": {Seed: 3, Orders: orders}} {
		_, err := demo.Write(in(name), o)
		require.NoError(t, err)
		if !whole { // as many again as all others' rows
			require.NoError(t, os.Remove(filepath.Join(in(name), "repeats.csv")))
		}
	}
	five := []string{"order_id,customer_id,received_on,cut_on,shipped_on", "form_id,order_id,received_on,cut_from,measurer_id"} // one who measured often enough for a page
	for i := range 5 {
		five[0] += fmt.Sprintf("\nFIVE%d,FIVECUSTOMER,2026-01-05,2026-01-10,2026-02-05", i)
		five[1] += fmt.Sprintf("\nFIVE%d-1,FIVE%d,2026-01-05,yes,M5", i, i)
	}
	for name, text := range map[string]string{
		"late/orders.csv":  "", // the rest is its own
		"five/orders.csv":  five[0] + "\n",
		"five/forms.csv":   five[1] + "\n",
		"tiny/orders.csv":  "order_id,customer_id,received_on\nTINY1,TINYCUSTOMER,2026-01-05\n",
		"wide/layout.yaml": "from: fitting\nunit: mm\norders:\n  order_id: Order no\n  customer_id: Person\nforms:\n  form_id: Order no\n  order_id: Order no\nmeasurements:\n  form_id: Order no\n  numbers:\n    - {column: L ball, side: left, point: ball}\n",
		"wide/fitting.csv": "Order no,Person,L ball\nWIDE1,WIDECUSTOMER1,257.3\nWIDE2,WIDECUSTOMER2,240\n",
		"note.md":          "---\ntitle: Ours\nfor: us\n---\n\n```sql name=q\nselect channel, count(*) as n from cohort group by channel order by channel\n```\n",
	} {
		require.NoError(t, os.MkdirAll(filepath.Dir(in(name)), 0o700))
		f, err := os.OpenFile(in(name), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
		require.NoError(t, err)
		_, err = f.WriteString(text)
		require.NoError(t, errors.Join(err, f.Close()))
	}
	book := in("shop.duckdb")
	say(t, "load", "--book", book, in("early"), in("five"))
	if !whole {
		return home // the first of alwaysKilled needs no more
	}
	say(t, "run", "--book", book, "measurements")
	require.NoError(t, os.MkdirAll(in("shop.files/layouts"), 0o700))
	layout, err := os.ReadFile(in("wide/layout.yaml"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(in("shop.files/layouts/Ours.yaml"), layout, 0o600))
	say(t, "book", "backup", "--book", book, in("safe"))
	return home
}

// A step is a call that changes a file, and which of several like it.
type killStep struct {
	what string
	no   int
}

func (s killStep) String() string { return fmt.Sprintf("%s %d", s.what, s.no) }

// A killing is a command that is to be killed and frozen, with what is right
// afterwards.
type killing struct {
	changer
	home          string // what it starts from; never changed
	steps         []killStep
	before, after []bookState // the book may be so before it is done, and when it is
	tree          map[string]bool
	status        int

	others                  sync.Once // looks up the next two
	otherBefore, otherAfter []bookState
}

func newKilling(t *testing.T, home string, c changer) *killing {
	t.Helper()
	if c.book == "" {
		c.book = "shop.duckdb"
	}
	if c.again == nil {
		c.again = []int{0}
	}
	k := &killing{changer: c, home: home}
	whole := k.copied(t)
	var said []string
	end := k.stepped(t, whole, func(what string) bool { said = append(said, what); return false })
	require.False(t, end.killed)
	require.Contains(t, c.again, end.status, end.said)
	k.status = end.status
	k.steps = stepsOf(said)
	require.NotEmpty(t, k.steps)
	if c.left != nil {
		c.left(t, whole)
	}
	k.tree = treeOf(t, whole)
	k.after = append(k.after, k.state(t, whole))
	if _, err := os.Stat(filepath.Join(home, k.book)); err == nil { // it is the one book of the home
		if killed.before == nil {
			killed.before = append(killed.before, k.state(t, k.copied(t)))
		}
		k.before = killed.before
	}
	return k
}

// withOther looks up what the book holds with the other writer's rows too, before the
// command is done, and when it is done first or last. Few steps let the other writer in.
func (k *killing) withOther(t *testing.T) {
	t.Helper()
	tiny := func(home string) {
		_, errs, status := k.program(home, "load --book "+k.book+" tiny")
		require.Zero(t, status, errs)
	}
	home := k.copied(t)
	k.once(t, home)
	tiny(home)
	k.otherAfter = append(k.otherAfter, k.state(t, home))
	home = k.copied(t)
	tiny(home)
	k.otherBefore = append(k.otherBefore, k.state(t, home))
	k.once(t, home)
	k.otherAfter = append(k.otherAfter, k.state(t, home))
}

// stepsOf are the steps of a run: of many writes to one file in a row the first, the
// middle and the last.
func stepsOf(said []string) (steps []killStep) {
	seen := map[string]int{}
	for at := 0; at < len(said); {
		n := 1
		for at+n < len(said) && said[at+n] == said[at] {
			n++
		}
		picked := []int{0, n / 2, n - 1}
		if !strings.HasPrefix(said[at], "write ") {
			picked = nil
			for i := range n {
				picked = append(picked, i)
			}
		}
		for _, i := range slices.Compact(picked) {
			steps = append(steps, killStep{said[at], seen[said[at]] + i})
		}
		seen[said[at]] += n
		at += n
	}
	return steps
}

func (k *killing) copied(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, copyAsItWas(k.home, dir))
	return dir
}

// program runs the program in a home.
func (k *killing) program(home, args string) (out, errs string, status int) {
	return program(home, strings.Fields(args)...)
}

// stepped runs the command in a home and stops it at its steps.
func (k *killing) stepped(t *testing.T, home string, before func(what string) bool) steppedEnd {
	t.Helper()
	var started func(int, func() string)
	var asked error
	done := make(chan struct{})
	if k.asks == nil {
		close(done)
	} else {
		started = func(pid int, said func() string) {
			go func() {
				defer close(done)
				asked = k.asks(address(said, func() bool { return syscall.Kill(pid, 0) != nil }))
				_ = syscall.Kill(pid, syscall.SIGINT)
			}()
		}
	}
	end := stepper{home, before}.run(t, started, strings.Fields(k.args)...)
	<-done
	if !end.killed {
		require.NoError(t, asked, end.said)
	}
	return end
}

// address waits for the service to say where it is.
func address(said func() string, gone func() bool) string {
	at := regexp.MustCompile(`http://127\.0\.0\.1:\d+`)
	for range 3000 {
		if a := at.FindString(said()); a != "" || gone() {
			return a
		}
		time.Sleep(10 * time.Millisecond)
	}
	return ""
}

// kill freezes the command at a step, looks at the book, and kills it. met is
// whether it came there.
func (k *killing) kill(t *testing.T, s killStep) (met bool) {
	home := k.copied(t)
	n, other := 0, false
	end := k.stepped(t, home, func(what string) bool {
		if what != s.what {
			return false
		}
		if n++; n <= s.no {
			return false
		}
		other = k.frozen(t, home)
		return true
	})
	if !end.killed {
		require.Contains(t, k.again, end.status, end.said)
		return false
	}
	_, noBook := os.Stat(filepath.Join(home, k.book))
	if noBook == nil {
		require.Contains(t, k.sums(t, true, other), k.sum(t, home), "the book is neither as before nor as after")
	}
	longAgo(t, home)
	k.once(t, home)
	if k.left != nil {
		k.left(t, home)
	}
	require.Contains(t, k.sums(t, false, other), k.sum(t, home))
	var lying []string
	for name := range treeOf(t, home) {
		// Unfinished entries of the cache, and seals, go when the next ones are written; a lock
		// stays. A service learns its risk model in its own time, so it may be there or not.
		model := k.asks != nil && strings.HasPrefix(name, "shop.files/models/model-") && strings.HasSuffix(name, ".json")
		if !k.tree[name] && !model && !strings.Contains(name, "/cache/.new-") && !strings.HasSuffix(name, "/keyed/loading") && !strings.HasSuffix(name, "/seals.lines.new") {
			lying = append(lying, name)
		}
	}
	require.Empty(t, lying, "lying about")
	return true
}

// once does the command once more, to its end.
func (k *killing) once(t *testing.T, home string) {
	t.Helper()
	if k.asks == nil {
		out, errs, status := k.program(home, k.args)
		require.Contains(t, k.again, status, "%s: %s%s", k.args, out, errs) // with the status that it ended with at first
		return
	}
	said, err := k.served(t, home)
	require.NoError(t, err, said)
}

// served starts the service in a home and asks it.
func (k *killing) served(t *testing.T, home string) (said string, err error) {
	t.Helper()
	var talk lockedBuffer
	c := exec.Command("lastroom", strings.Fields(k.args)...)
	c.Dir, c.Stdout, c.Stderr = home, &talk, &talk
	require.NoError(t, c.Start())
	ended := make(chan error, 1)
	gone := make(chan struct{})
	go func() {
		ended <- c.Wait()
		close(gone)
	}()
	err = k.asks(address(talk.String, func() bool {
		select {
		case <-gone:
			return true
		default:
			return false
		}
	}))
	_ = c.Process.Signal(os.Interrupt)
	if bad := <-ended; err == nil {
		err = bad
	}
	return talk.String(), err
}

// frozen is what others find while a writer stands still; other is whether another writer
// had its turn.
func (k *killing) frozen(t *testing.T, home string) (other bool) {
	t.Helper()
	out, errs, status := k.program(home, "book info --format json --book "+k.book)
	if _, err := os.Stat(filepath.Join(home, k.book)); err != nil {
		assert.Equal(t, 3, status, "%s%s", out, errs)
		assert.Contains(t, errs, "there is no order book")
	} else if _, err := os.Stat(filepath.Join(home, strings.TrimSuffix(k.book, ".duckdb")+".files", "snapshot.duckdb")); err != nil && status == 4 {
		assert.Contains(t, errs, "is held by") // it is being made
	} else if assert.Zero(t, status, "%s%s", out, errs) {
		var seen []string
		for _, s := range slices.Concat(k.before, k.after) {
			seen = append(seen, s.hash)
		}
		assert.Contains(t, seen, hashIn(t, out), "a reader saw a book that is neither")
	}
	if len(k.before) == 0 { // the other one would make the book
		return false
	}
	out, errs, status = k.program(home, "load --book "+k.book+" tiny")
	if status != 0 {
		assert.Contains(t, []int{3, 4}, status)
		assert.Contains(t, errs, "is held by", "%s", out)
	}
	return status == 0
}

// A bookState is what a book holds: as readers are told, and as a check reads it off
// the book itself.
type bookState struct{ hash, sum string }

func (k *killing) state(t *testing.T, home string) bookState {
	t.Helper()
	return bookState{hashOf(t, home, k.book), k.sum(t, home)}
}

// sum is what a sound book holds.
func (k *killing) sum(t *testing.T, home string) string {
	t.Helper()
	out, errs, status := k.program(home, "book verify --format json --book "+k.book)
	require.Zero(t, status, "%s%s", out, errs)
	var v struct{ Checksum string }
	require.NoError(t, json.Unmarshal([]byte(out), &v))
	require.NotEmpty(t, v.Checksum)
	return v.Checksum
}

// sums are what the book may hold when the command is done, and before too; with the other
// writer's rows where it had its turn.
func (k *killing) sums(t *testing.T, before, other bool) (sums []string) {
	t.Helper()
	states := slices.Clone(k.after)
	if before {
		states = append(states, k.before...)
	}
	if other {
		k.others.Do(func() { k.withOther(t) })
		states = append(states, k.otherAfter...)
		if before {
			states = append(states, k.otherBefore...)
		}
	}
	for _, s := range states {
		sums = append(sums, s.sum)
	}
	return sums
}

// longAgo makes what was left unfinished older than a day.
func longAgo(t *testing.T, home string) {
	t.Helper()
	then := time.Now().Add(-25 * time.Hour)
	for _, left := range []string{"shop.files/incoming/*", "shop.files/incoming/*/upload.json", "shop.files/cache/.new-*", "shop.files/runs/*.new", "shop.files/models/*.new", "shop.files/keyed/new/*", "shop.files/runs/*/*.new", "invented/shop.files/cache/.new-*", "invented/shop.files/runs/*.new"} {
		names, err := filepath.Glob(filepath.Join(home, left))
		require.NoError(t, err)
		for _, name := range names {
			require.NoError(t, os.Chtimes(name, then, then))
		}
	}
}

// thaw freezes the command at a step, looks at the book, and lets it go on.
func (k *killing) thaw(t *testing.T, s killStep) {
	home := k.copied(t)
	n, other := 0, false
	end := k.stepped(t, home, func(what string) bool {
		if what == s.what {
			if n++; n == s.no+1 {
				other = k.frozen(t, home)
			}
		}
		return false
	})
	require.False(t, end.killed)
	require.Contains(t, k.again, end.status, end.said)
	require.Contains(t, k.sums(t, false, other), k.sum(t, home))
}

// hashOf is the hash of all that a book in a home holds.
func hashOf(t *testing.T, home, book string) string {
	t.Helper()
	return hashIn(t, say(t, "book", "info", "--format", "json", "--book", filepath.Join(home, book)))
}

func hashIn(t *testing.T, info string) string {
	t.Helper()
	var i struct {
		Hash string `json:"book_hash"`
	}
	require.NoError(t, json.Unmarshal([]byte(info), &i))
	require.NotEmpty(t, i.Hash)
	return i.Hash
}

// treeOf are the names of all files of a home, without what differs from run to run.
func treeOf(t *testing.T, home string) map[string]bool {
	t.Helper()
	tree := map[string]bool{}
	require.NoError(t, filepath.WalkDir(home, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(home, path)
			tree[steadyName(rel)] = true
		}
		return err
	}))
	return tree
}

// nobodyLeft searches every byte of a book and of what stands beside it for the
// forgotten customer.
func nobodyLeft(t *testing.T, home string) {
	t.Helper()
	orders, err := os.ReadFile(filepath.Join(home, "early", "orders.csv"))
	require.NoError(t, err)
	words := []string{"P00007"}
	for _, line := range strings.Split(string(orders), "\n") {
		if cells := strings.Split(line, ","); slices.Contains(cells, "P00007") {
			words = append(words, cells[0])
		}
	}
	require.Greater(t, len(words), 1)
	require.NoError(t, filepath.WalkDir(home, func(path string, d fs.DirEntry, err error) error {
		rel, _ := filepath.Rel(home, path)
		if err != nil || d.IsDir() || !strings.HasPrefix(rel, "shop.") {
			return err
		}
		b, err := os.ReadFile(path)
		for _, word := range words {
			assert.False(t, bytes.Contains(b, []byte(word)), "%s still names %s", rel, word)
		}
		return err
	}))
}
