package stats

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
)

// Resample says how a bootstrap is run.
type Resample struct {
	Times   int    // replicates
	Width   int    // numbers computed by each replicate
	Seed    uint64 // the same seed gives the same replicates, whatever Workers is
	Workers int    // goroutines; 0 means one a processor
	// Progress, if set, is told now and then how many replicates are done. It
	// may be called from several goroutines.
	Progress func(done int)
}

// Replicates are the results of a bootstrap. Values[k] holds number k of all
// replicates in order; a replicate that failed is NaN throughout.
type Replicates struct {
	Values [][]float64
	Failed int
	Err    error // why the first replicate that failed did
}

// Replicate runs a bootstrap in parallel. Each worker makes its working memory
// once; draw computes one replicate into out with its own random source, which
// depends on the seed and the replicate's number only, so the results are the
// same for any number of workers. A replicate fails by returning an error; one
// failure does not stop the others. The error returned is the context's.
func Replicate[W any](ctx context.Context, r Resample, worker func() W, draw func(w W, rng *rand.Rand, out []float64) error) (*Replicates, error) {
	times, width := max(r.Times, 0), max(r.Width, 0)
	rows, errs := make([]float64, times*width), make([]error, times)
	workers := r.Workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next, done atomic.Int64
	var all sync.WaitGroup
	for range min(workers, times) {
		all.Go(func() {
			w := worker()
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= times {
					return
				}
				errs[i] = draw(w, Source(r.Seed, i), rows[i*width:(i+1)*width:(i+1)*width])
				if n := done.Add(1); r.Progress != nil {
					r.Progress(int(n))
				}
			}
		})
	}
	all.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return collect(rows, errs, width), nil
}

func collect(rows []float64, errs []error, width int) *Replicates {
	out := &Replicates{Values: make([][]float64, width)}
	for k := range out.Values {
		out.Values[k] = make([]float64, len(errs))
	}
	for i, err := range errs {
		if err != nil {
			out.Failed++
			if out.Err == nil {
				out.Err = err
			}
		}
		for k := range out.Values {
			out.Values[k][i] = rows[i*width+k]
			if err != nil {
				out.Values[k][i] = math.NaN()
			}
		}
	}
	return out
}

// Source is the random source of replicate i under a seed: a PCG whose two
// seeds are mixed (splitmix64), since neighbouring raw seeds start alike.
func Source(seed uint64, i int) *rand.Rand {
	mix := func(x uint64) uint64 {
		x += 0x9e3779b97f4a7c15
		x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
		x = (x ^ x>>27) * 0x94d049bb133111eb
		return x ^ x>>31
	}
	a := mix(seed)
	return rand.New(rand.NewPCG(a, mix(a^uint64(i))))
}

// ResampleClusters draws as many clusters as there are, with replacement, and
// puts how often each came into weights (one entry a cluster).
func ResampleClusters(rng *rand.Rand, weights []float64) {
	clear(weights)
	for range weights {
		weights[rng.IntN(len(weights))]++
	}
}

// SumByPattern adds up the weight of each row's cluster by the row's pattern:
// dst[pattern[i]] += weights[cluster[i]]. dst is cleared first.
func SumByPattern(dst []float64, pattern, cluster []int32, weights []float64) {
	clear(dst)
	for i, p := range pattern {
		dst[p] += weights[cluster[i]]
	}
}

// Parallel does n pieces of work on several goroutines; 0 means one a processor.
// A panic in one of them is the caller's, after all are done.
func Parallel(workers, n int, do func(i int)) {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var all sync.WaitGroup
	var failed atomic.Pointer[any]
	for range min(workers, n) {
		all.Go(func() {
			defer func() {
				if p := recover(); p != nil {
					failed.Store(&p)
				}
			}()
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	all.Wait()
	if p := failed.Load(); p != nil {
		panic(*p)
	}
}
