package regression

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// example reads a worked example of testdata/checks; its README says where each
// comes from.
func example(t testing.TB, name string) map[string][]float64 {
	return read(t, filepath.Join("..", "..", "testdata", "checks", name))
}

// shared reads an example whose data may not be copied; the test is passed
// over where it is not at hand.
func shared(t testing.TB, name string) map[string][]float64 {
	path := filepath.Join("..", "..", "..", "shared", "checks", "data", name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("%s is not at hand: its data may not be copied", name)
	}
	return read(t, path)
}

func read(t testing.TB, path string) map[string][]float64 {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	columns := map[string][]float64{}
	for _, row := range rows[1:] {
		for k, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				v = math.NaN()
			}
			columns[rows[0][k]] = append(columns[rows[0][k]], v)
		}
	}
	return columns
}

func is(v []float64, level float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		if x == level {
			out[i] = 1
		}
	}
	return out
}

// plain is a model of y on columns, each row a subject and a cluster followed
// to the end; the first column is the exposure where it is 0 or 1 throughout,
// otherwise there is none.
func plain(t testing.TB, y []float64, columns ...[]float64) (*Design, Columns) {
	t.Helper()
	s := Subjects{N: len(y), Edges: []int{365}, Cluster: make([]int32, len(y))}
	for i := range y {
		s.Cluster[i] = int32(i)
	}
	s.Age = func(int) int { return 400 }
	s.Event = func(i int) (int, bool) { return 10, y[i] == 1 }
	var exposures []Exposure
	if !slices.ContainsFunc(columns[0], func(v float64) bool { return v != 0 && v != 1 }) {
		x := columns[0]
		exposures = []Exposure{{Name: "exposed", Level: func(i int) Level { return Level(x[i]) }}}
		columns = columns[1:]
	}
	var terms []Term
	for _, c := range columns {
		distinct := slices.Compact(slices.Sorted(slices.Values(c)))
		term := Term{Names: []string{"x"}, Code: func(i int) int { k, _ := slices.BinarySearch(distinct, c[i]); return k }}
		for _, v := range distinct {
			term.Values = append(term.Values, []float64{v})
		}
		terms = append(terms, term)
	}
	return NewDesign(s, terms, exposures), Columns{Exposures: true}
}

func indicator(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// settled is a fit by maximum likelihood, or by Firth's without the refitted
// intercept.
func settled(t testing.TB, d *Design, c Columns, firth bool) *Fit {
	t.Helper()
	f := d.newFit(c, d.Whole())
	f.Firth = firth
	f.solve(500, 500, 1e-11)
	require.True(t, f.converged)
	return f
}

// order gives the estimates as they are printed: the exposure, which stands
// last in a design, right after the intercept.
func order(f *Fit) []float64 {
	p := len(f.Coef)
	return append([]float64{f.Coef[0], f.Coef[p-1]}, f.Coef[1:p-1]...)
}

// errorOf is the model-based standard error of column j.
func errorOf(f *Fit, j int) float64 {
	f.pass(true)
	f.factor.Take(f.sums.Info)
	return math.Sqrt(f.factor.Inverse()[j*f.sums.P+j])
}

// penalised is the log-likelihood, with half the log determinant of the
// information for Firth.
func penalised(f *Fit) float64 {
	f.pass(true)
	l := 0.0
	for i, r := range f.risk {
		p := f.share(i) * r
		l += f.weights.Slot[2*i+1]*math.Log(math.Max(p, 1e-300)) + f.weights.Slot[2*i]*math.Log1p(-p)
	}
	if f.Firth {
		f.factor.Take(f.sums.Info)
		for j := range f.sums.P {
			l += math.Log(f.factor.L[j*f.sums.P+j])
		}
	}
	return l
}
