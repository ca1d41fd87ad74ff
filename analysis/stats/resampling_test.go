package stats

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// Law school and spatial test data of Efron and Tibshirani (1993), Tables 3.1
// and 14.1: the deterministic parts, digits of R.
func TestAcceleration(t *testing.T) {
	s := example(t, "law_school.csv")
	lsat, gpa := s.nums(t, "lsat"), s.nums(t, "gpa")
	assert.InDelta(t, 0.776374491, stat.Correlation(lsat, gpa, nil), 5e-10)
	var jack []float64
	for i := range lsat {
		jack = append(jack, stat.Correlation(without(lsat, i), without(gpa, i), nil))
	}
	assert.InDelta(t, -0.0756715649, accelerationOf(jack), 5e-11)

	a := example(t, "spatial_A.csv").nums(t, "A")
	jack = nil
	for i := range a {
		jack = append(jack, stat.PopVariance(without(a, i), nil))
	}
	assert.InDelta(t, 171.534024, stat.PopVariance(a, nil), 5e-7)
	assert.InDelta(t, 0.0612401198, accelerationOf(jack), 5e-11)
	// The book's z0 and a give the levels .110 and .985.
	assert.InDelta(t, 0.109856183, bcaLevel(0.146, 0.061, 0.05), 5e-10)
	assert.InDelta(t, 0.984477013, bcaLevel(0.146, 0.061, 0.95), 5e-10)
}

// accelerationOf jackknife values, each with one number left out: sum d^3 /
// (6 (sum d^2)^(3/2)), d = mean - value.
func accelerationOf(jack []float64) float64 {
	var two, three float64
	for _, v := range jack {
		d := stat.Mean(jack, nil) - v
		two, three = two+d*d, three+d*d*d
	}
	return three / (6 * math.Pow(two, 1.5))
}

func without(x []float64, i int) []float64 { return slices.Delete(slices.Clone(x), i, i+1) }

// No randomness: all 46,656 resamples of six numbers; levels and limits by R.
func TestBCaExhaustive(t *testing.T) {
	x := []float64{2, 5, 1, 9, 4, 7}
	means := make([]float64, 0, 46656)
	for k := range 46656 {
		sum := 0.0
		for range x {
			sum += x[k%6]
			k /= 6
		}
		means = append(means, sum/6)
	}
	var jack []float64
	for i := range x {
		jack = append(jack, stat.Mean(without(x, i), nil))
	}
	mean := stat.Mean(x, nil)
	e := BCa(mean, means, accelerationOf(jack), 0.95, 6)
	checkEstimate(t, e, mean, 2.5, 6.833333333, 1e-9)
	z0, a := -0.0588098454, accelerationOf(jack)
	assert.InDelta(t, 0.0139542852, a, 5e-11)
	lo, hi := bcaLevel(z0, a, 0.025), bcaLevel(z0, a, 0.975)
	assert.InDelta(t, 0.0215741361, lo, 5e-11)
	assert.InDelta(t, 0.970897779, hi, 5e-10)
}

// Efron and Tibshirani (1993), Table 14.2: BCa 90% of the spatial variance
// (115.8, 259.6), allow 4 for the random resamples.
func TestBCaSpatial(t *testing.T) {
	x := example(t, "spatial_A.csv").nums(t, "A")
	r, err := Replicate(context.Background(), Resample{Times: 20_000, Width: 1, Seed: 1},
		func() []float64 { return make([]float64, len(x)) },
		func(w []float64, rng *rand.Rand, out []float64) error {
			ResampleClusters(rng, w)
			out[0] = stat.PopVariance(x, w)
			return nil
		})
	require.NoError(t, err)
	var jack []float64
	for i := range x {
		jack = append(jack, stat.PopVariance(without(x, i), nil))
	}
	e := BCa(stat.PopVariance(x, nil), r.Values[0], accelerationOf(jack), 0.90, len(x))
	checkEstimate(t, e, 171.534024, 115.8, 259.6, 4)
	plain := Percentile(e.Point, r.Values[0], 0.90, len(x))
	assert.True(t, plain.Low < e.Low && plain.High < e.High, "BCa moves both limits up here")
}

// The replicates depend on the seed alone, not on the number of workers.
func TestReplicateWorkers(t *testing.T) {
	run := func(seed uint64, workers int) *Replicates {
		r, err := Replicate(context.Background(), Resample{Times: 57, Width: 2, Seed: seed, Workers: workers},
			func() struct{} { return struct{}{} },
			func(_ struct{}, rng *rand.Rand, out []float64) error {
				out[0], out[1] = rng.Float64(), rng.NormFloat64()
				if out[0] < 0.1 {
					return errors.New("small")
				}
				return nil
			})
		require.NoError(t, err)
		return r
	}
	a, b, c := run(1, 1), run(1, 7), run(2, 1)
	require.Positive(t, a.Failed)
	assert.Equal(t, a.Failed, b.Failed)
	assert.EqualError(t, a.Err, "small")
	for k := range a.Values {
		for i, v := range a.Values[k] {
			assert.True(t, v == b.Values[k][i] || math.IsNaN(v) && math.IsNaN(b.Values[k][i]))
		}
	}
	assert.NotEqual(t, a.Values[1][0], c.Values[1][0])
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Replicate(stopped, Resample{Times: 5, Width: 1}, func() int { return 0 },
		func(int, *rand.Rand, []float64) error { return nil })
	assert.ErrorIs(t, err, context.Canceled)
}

func TestBootstrapRefuses(t *testing.T) {
	many := make([]float64, 100)
	for i := range many {
		many[i] = float64(i)
	}
	assert.True(t, Percentile(50, many, 0.95, 7).Bounded())
	for range 11 {
		many = append(many, math.NaN())
	}
	warned := Percentile(50, many, 0.95, 7)
	assert.True(t, warned.Bounded())
	assert.NotEmpty(t, warned.Warnings)
	many = append(many, math.NaN(), math.NaN())
	e := Percentile(50, many, 0.95, 7)
	assert.True(t, e.Given())
	assert.False(t, e.Bounded())
	assert.False(t, Percentile(50, many[:20], 0.95, 7).Bounded())
	assert.False(t, Percentile(math.NaN(), many[:100], 0.95, 7).Given())
	outside := BCa(200, many[:100], 0.1, 0.95, 7)
	assert.True(t, outside.Bounded())
	assert.Equal(t, "bootstrap percentile", outside.Method)
}

// Clusters drawn sum to their number, each about a Poisson(1) count.
func TestClusterWeights(t *testing.T) {
	w := make([]float64, 20_000)
	rng := Source(9, 0)
	ResampleClusters(rng, w)
	assert.InDelta(t, 20_000, stat.Mean(w, nil)*20_000, 1e-6)
	assert.InDelta(t, 1, stat.Variance(w, nil), 0.05)
	sum := make([]float64, 2)
	SumByPattern(sum, []int32{0, 1, 1}, []int32{2, 0, 2}, []float64{1, 5, 3})
	assert.Equal(t, []float64{3, 4}, sum)
}

// Type 7 of Hyndman and Fan (1996): values of R's quantile, by hand.
func TestQuantiles(t *testing.T) {
	x := []float64{1, 2, 4, 8}
	for p, want := range map[float64]float64{0: 1, 0.25: 1.75, 0.5: 3, 0.9: 6.8, 1: 8} {
		assert.InDelta(t, want, Quantile7(x, p), 1e-15)
	}
	ties := make([]float64, 31)
	for i := range ties {
		ties[i] = float64(i)
	}
	assert.Equal(t, 3.0, Quantile7(ties, 0.1))
	for _, bad := range []float64{Quantile7(nil, 0.5), Quantile7(x, 1.1), Quantile7(x, math.NaN()), Quantile7([]float64{1, math.NaN()}, 0.5)} {
		assert.True(t, math.IsNaN(bad))
	}
	rng := Source(4, 0)
	for range 50 {
		s := make([]float64, 1+rng.IntN(20))
		for i := range s {
			s[i] = rng.NormFloat64()
		}
		slices.Sort(s)
		last := s[0]
		for p := 0.0; p <= 1; p += 0.01 {
			q := Quantile7(s, p)
			assert.True(t, q >= last && q <= s[len(s)-1])
			last = q
		}
	}
}
