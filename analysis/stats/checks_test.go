package stats

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// Tolerances by how a figure is backed. A figure printed in a paper holds to
// half a unit of its last digit; one that a reference library printed with
// nine digits holds to those.
const (
	nine = 2e-9 // relative, for figures printed with nine digits
	six  = 6e-7 // absolute, for figures given with six decimals
)

var root_ = filepath.Join("..", "..")

// A sheet is a small table of a worked example, by column.
type sheet map[string][]string

// example reads a worked example of testdata/checks (origins: its README).
func example(t testing.TB, name string) sheet {
	return readSheet(t, filepath.Join(root_, "testdata", "checks", name))
}

// shared reads data that may not be copied into the project; the test is
// skipped on a bare clone.
func shared(t testing.TB, name string) sheet {
	path := filepath.Join(root_, "..", "shared", "checks", "data", name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("%s is not here: it may not be copied into the project", name)
	}
	return readSheet(t, path)
}

func readSheet(t testing.TB, path string) sheet {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	s := sheet{}
	for j, name := range rows[0] {
		for _, r := range rows[1:] {
			s[name] = append(s[name], r[j])
		}
	}
	return s
}

func (s sheet) nums(t testing.TB, name string) []float64 {
	t.Helper()
	out := make([]float64, len(s[name]))
	for i, v := range s[name] {
		x, err := strconv.ParseFloat(v, 64)
		require.NoError(t, err)
		out[i] = x
	}
	require.NotEmpty(t, out, "no column %s", name)
	return out
}

// ints is a column of whole numbers.
func (s sheet) ints(t testing.TB, name string) []int {
	var out []int
	for _, v := range s.nums(t, name) {
		out = append(out, int(v))
	}
	return out
}

func checkEstimate(t *testing.T, e Estimate, point, low, high, tol float64) {
	t.Helper()
	require.True(t, e.Given(), "%v", e.Warnings)
	require.InDelta(t, point, e.Point, tol)
	require.InDelta(t, low, e.Low, tol)
	require.InDelta(t, high, e.High, tol)
}
