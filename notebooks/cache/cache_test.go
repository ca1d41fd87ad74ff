package cache

import (
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestKeyTellsPartsApart(t *testing.T) {
	require.NotEqual(t, Key("ab", "c"), Key("a", "bc"))
	require.NotEqual(t, Key("a"), Key("a", ""))
	require.Equal(t, Key("a", "b"), Key("a", "b"))
}

func TestOfComputesOnce(t *testing.T) {
	d := In(filepath.Join(t.TempDir(), "cache"))
	calls := 0
	compute := func() ([]float64, error) { calls++; return []float64{1, math.NaN(), math.Inf(1)}, nil }
	for range 3 {
		v, err := Of(d, Key("x"), compute)
		require.NoError(t, err)
		require.Len(t, v, 3)
		require.True(t, math.IsNaN(v[1]) && math.IsInf(v[2], 1))
	}
	require.Equal(t, 1, calls)
	_, err := Of(d, Key("y"), compute)
	require.NoError(t, err)
	require.Equal(t, 2, calls, "another key is another result")
}

// text is what writes an entry.
func text(b []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(b)
		return err
	}
}

func TestBrokenEntryIsComputedAgain(t *testing.T) {
	d := In(t.TempDir())
	require.NoError(t, d.put("k", text([]byte("the answer"))))
	whole, err := os.ReadFile(d.file("k"))
	require.NoError(t, err)
	for i := range whole {
		broken := append([]byte{}, whole...)
		broken[i] ^= 1
		require.NoError(t, os.WriteFile(d.file("k"), broken, 0o666))
		_, _, ok := d.get("k")
		require.False(t, ok, "byte %d flipped", i)
		require.NoError(t, os.WriteFile(d.file("k"), whole[:i], 0o666))
		_, _, ok = d.get("k")
		require.False(t, ok, "cut at %d", i)
	}
}

func TestFailureIsNotKept(t *testing.T) {
	d := In(t.TempDir())
	_, err := Of(d, "k", func() (int, error) { return 0, errors.New("no") })
	require.Error(t, err)
	v, err := Of(d, "k", func() (int, error) { return 7, nil })
	require.NoError(t, err)
	require.Equal(t, 7, v)
}

func TestZeroDirKeepsNothing(t *testing.T) {
	v, err := Of(Dir{}, "k", func() (int, error) { return 7, nil })
	require.NoError(t, err)
	require.Equal(t, 7, v)
}

func TestOldestGoFirst(t *testing.T) {
	d := Dir{t.TempDir(), 1000}
	for i := range 5 {
		key := strconv.Itoa(i)
		require.NoError(t, d.put(key, text(make([]byte, 300))))
		old := time.Now().Add(time.Duration(i-10) * time.Hour)
		require.NoError(t, os.Chtimes(d.file(key), old, old))
	}
	_, _, ok := d.get("0")
	require.False(t, ok)
	_, _, ok = d.get("4")
	require.True(t, ok)
}

// An entry larger than the folder should hold stays beside smaller ones, and goes
// when it is the oldest of several like it.
func TestLargeEntryHasRoom(t *testing.T) {
	d := Dir{t.TempDir(), 1000}
	put := func(key string, size, hoursAgo int) {
		require.NoError(t, d.put(key, text(make([]byte, size))))
		made := time.Now().Add(-time.Duration(hoursAgo) * time.Hour)
		require.NoError(t, os.Chtimes(d.file(key), made, made))
	}
	has := func(key string) bool { _, _, ok := d.get(key); return ok }
	put("orders", 5000, 9)
	put("faults", 300, 8)
	require.True(t, has("orders"))
	put("newer orders", 5000, 7)
	put("newer faults", 300, 6)
	require.False(t, has("orders"))
	require.True(t, has("newer orders"))
	require.True(t, has("newer faults"))
}

func TestManyAtOnce(t *testing.T) {
	d := In(t.TempDir())
	var wg sync.WaitGroup
	for i := range 16 {
		wg.Go(func() {
			v, err := Of(d, Key("same"), func() (string, error) { return "answer", nil })
			if err != nil || v != "answer" {
				t.Errorf("reader %d: %q, %v", i, v, err)
			}
		})
	}
	wg.Wait()
}

func TestProgramIsStable(t *testing.T) {
	require.Len(t, Program(), 16)
	require.Equal(t, Program(), Program())
}

// What a killed program left half written goes, what another one writes now stays.
func TestUnfinishedEntriesGo(t *testing.T) {
	dir := t.TempDir()
	old, fresh := filepath.Join(dir, unfinished+"1"), filepath.Join(dir, unfinished+"2")
	for _, path := range []string{old, fresh} {
		require.NoError(t, os.WriteFile(path, []byte("half"), 0o600))
	}
	then := time.Now().Add(-2 * longestWrite)
	require.NoError(t, os.Chtimes(old, then, then))
	require.NoError(t, In(dir).put(Key("a"), text([]byte("whole"))))
	require.NoFileExists(t, old)
	require.FileExists(t, fresh)
}
