//go:build unix

package load

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// Environment of a child that loads sheets and is killed at a step, or has no
// room left on its disk.
const (
	crashBook = "LASTROOM_TEST_BOOK"
	crashDir  = "LASTROOM_TEST_SHEETS"
	crashStep = "LASTROOM_TEST_KILL_AT"
	crashRoom = "LASTROOM_TEST_ROOM" // largest file in bytes
	crashMap  = "LASTROOM_TEST_MAP"  // a mapping to load by
)

// crashMain loads the sheets and ends the process, if it is such a child.
func crashMain() {
	book := os.Getenv(crashBook)
	if book == "" {
		return
	}
	opt := options(os.Getenv(crashDir))
	if opt.Map = os.Getenv(crashMap); opt.Map != "" {
		opt.Need, opt.JudgeLater = []string{"orders"}, true
	}
	opt.AtStep = func(step string) {
		fmt.Println(step)
		if step == os.Getenv(crashStep) {
			syscall.Kill(os.Getpid(), syscall.SIGKILL)
			select {}
		}
	}
	var room uint64
	if _, err := fmt.Sscan(os.Getenv(crashRoom), &room); err == nil {
		signal.Ignore(unix.SIGXFSZ)
		if err := unix.Setrlimit(unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: room, Max: room}); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
	if _, err := Sheets(context.Background(), book, opt); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

func crash(t *testing.T, book, dir string, env ...string) (steps []string, talk string, err error) {
	c := exec.Command(os.Args[0])
	c.Env = append(append(os.Environ(), crashBook+"="+book, crashDir+"="+dir), env...)
	var errs strings.Builder
	c.Stderr = &errs
	out, err := c.Output()
	return strings.Fields(string(out)), errs.String(), err
}

// kill -9 amid a first load, and of a second one when the book has just taken its
// name: readers see the book before or after it, whole, and the next load does what
// the killed one did not: of a second. With CI=true a fifth of the steps of each, by
// turns, are killed, with -campaign all; the whole program is killed in cmd/lastroom.
func TestKilledAtEachStep(t *testing.T) {
	ctx := context.Background()
	first := writeSheets(t, nil)
	second := writeSheets(t, map[string]string{"orders.csv": strings.Replace(small["orders.csv"], "pull-on", "lace-up", 1)})
	book := smallBook(t)
	before := checksum(t, book)
	_, _, err := crash(t, book, second, crashStep+"=renamed")
	require.ErrorContains(t, err, "killed")
	require.NotEmpty(t, requireSound(t, book))
	require.NoError(t, bookfile.Settle(ctx, bookfile.FilesOf(book), "test"))
	after := checksum(t, book)
	assert.NotEqual(t, before, after)
	assert.Equal(t, []string{"lace-up", "lace-up"}, ask(t, book, "SELECT closure FROM orders"))
	_, err = Sheets(ctx, book, options(second))
	require.NoError(t, err)
	assert.Equal(t, after, checksum(t, book))
	assert.Empty(t, requireSound(t, book))
	if !breadth.Wide() {
		return
	}

	book = smallBook(t)
	steps, talk, err := crash(t, book, second)
	require.NoError(t, err, talk)
	sums := ask(t, book, "SELECT checksum FROM loads ORDER BY load_id")
	require.Len(t, sums, 2)
	require.Contains(t, steps, "renamed")
	require.Greater(t, len(steps), 10)
	slices.Reverse(steps) // a step that comes again is the same kill: the child dies at the first
	var distinct []string
	for i, step := range steps {
		if !slices.Contains(steps[i+1:], step) {
			distinct = append(distinct, step)
		}
	}
	slices.Reverse(distinct)
	steps = slices.DeleteFunc(slices.Clone(distinct), func(step string) bool { return step == "copied" }) // a first load has nothing to copy
	require.Len(t, steps, len(distinct)-1)
	for i, step := range steps {
		if !breadth.Campaign() && i%5 != 1 {
			continue
		}
		t.Run("first/"+step, func(t *testing.T) {
			book := newBook(t)
			_, _, err := crash(t, book, first, crashStep+"="+step)
			require.ErrorContains(t, err, "killed")
			_, err = Sheets(ctx, book, options(first))
			require.NoError(t, err)
			require.Equal(t, sums[:1], ask(t, book, "SELECT checksum FROM loads ORDER BY load_id"))
			assert.Empty(t, requireSound(t, book))
		})
	}
	for i, step := range distinct {
		if !breadth.Campaign() && step != "renamed" && i%5 != 3 && step != "copied" {
			continue
		}
		t.Run("second/"+step, func(t *testing.T) {
			book := smallBook(t)
			_, _, err := crash(t, book, second, crashStep+"="+step)
			require.ErrorContains(t, err, "killed")
			requireSound(t, book)
			require.NoError(t, bookfile.Settle(ctx, bookfile.FilesOf(book), "test"))
			seen := checksum(t, book)
			if i >= slices.Index(distinct, "renamed") {
				assert.Equal(t, sums[1], seen)
			} else {
				assert.Equal(t, sums[0], seen)
			}
			_, err = Sheets(ctx, book, options(second))
			require.NoError(t, err)
			assert.Equal(t, sums[1], checksum(t, book))
			assert.Empty(t, requireSound(t, book))
		})
	}
}

// VerifyBook is upkeep.Verify: what is wrong with a book, and what of a load that was
// cut short is left to do. An external test brings it, since upkeep loads.
var VerifyBook func(ctx context.Context, book string) (problems, unfinished []string, err error)

func requireSound(t *testing.T, book string) (unfinished []string) {
	t.Helper()
	problems, unfinished, err := VerifyBook(context.Background(), book)
	require.NoError(t, err)
	require.Empty(t, problems)
	return unfinished
}

// A disk without room, at whatever size of file, leaves the book as it was and
// says so. Room for half the book; with CI=true for more and for less, and for all.
func TestFullDisk(t *testing.T) {
	book := smallBook(t)
	before := checksum(t, book)
	second := writeSheets(t, map[string]string{"orders.csv": strings.Replace(small["orders.csv"], "pull-on", "lace-up", 1)})
	info, err := os.Stat(book)
	require.NoError(t, err)
	for _, room := range []int64{64, 4096, info.Size() / 2, info.Size()} {
		if room != info.Size()/2 && !breadth.Wide() {
			continue
		}
		_, talk, err := crash(t, book, second, fmt.Sprint(crashRoom, "=", room))
		require.Error(t, err, "room %d", room)
		assert.NotContains(t, talk, "goroutine ", "room %d", room)
		assert.NotEmpty(t, talk)
		require.NoError(t, bookfile.Settle(context.Background(), bookfile.FilesOf(book), "test"))
		assert.Equal(t, before, checksum(t, book))
	}
	if !breadth.Wide() {
		return
	}
	_, talk, err := crash(t, book, second)
	require.NoError(t, err, talk)
	assert.NotEqual(t, before, checksum(t, book))
}

// The same in the midst of writing more rows than the engine keeps back: it then
// can't roll back, and must not end the program for it: where there is no room at all, a
// little, and a little more.
func TestFullDiskInALongLoad(t *testing.T) {
	breadth.Leave(t, "TestFullDisk fills the disk in a short one")
	const forms, heights = 3000, 50
	r := rand.New(rand.NewPCG(3, 4))
	noise := make([]byte, 2400) // letters that make the book larger than the sheet that comes after
	var orders, sheet, one, many strings.Builder
	orders.WriteString("order_id,customer_id,received_on\n")
	sheet.WriteString("form_id,order_id,form_no,received_on,cut_from,irregularities\n")
	const header = "form_id,side,clothing,point,height,value,unit\n"
	one.WriteString(header)
	many.WriteString(header)
	for f := range forms {
		for i := range noise {
			noise[i] = byte('0' + r.IntN(75))
		}
		fmt.Fprintf(&orders, "O%d,C%d,2026-01-05\n", f, f)
		fmt.Fprintf(&sheet, "F%d,O%d,1,2026-01-05,yes,%s\n", f, f, noise)
		fmt.Fprintf(&one, "F%d,left,bare,ball,,250,mm\n", f)
		for h := range heights {
			fmt.Fprintf(&many, "F%d,left,bare,leg,%d,%d,mm\n", f, 100+10*h, 200+r.IntN(200))
		}
	}
	book := newBook(t)
	_, talk, err := crash(t, book, writeSheets(t, map[string]string{"orders.csv": orders.String(), "forms.csv": sheet.String(),
		"measurements.csv": one.String(), "outcomes.csv": "order_id,result\nO1,kept\n"}))
	require.NoError(t, err, talk)
	before := checksum(t, book)
	next := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(next, "measurements.csv"), []byte(many.String()), 0o600))
	info, err := os.Stat(book)
	require.NoError(t, err)
	require.Greater(t, info.Size(), int64(many.Len()))
	for _, more := range []int64{1 << 18, 0, 1 << 20} {
		_, talk, err := crash(t, book, next, fmt.Sprint(crashRoom, "=", info.Size()+more))
		require.Error(t, err, "room for %d more", more)
		assert.NotContains(t, talk, "goroutine ", "room for %d more", more)
		require.NoError(t, bookfile.Settle(context.Background(), bookfile.FilesOf(book), "test"))
		assert.Equal(t, before, checksum(t, book))
	}
}
