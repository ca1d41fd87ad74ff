package remakes

import (
	"context"
	"math"
	"math/rand/v2"

	"lastroom/analysis/stats"
)

// A resampler draws customers with replacement (orders of one customer are not
// independent) and keeps the working memory of one worker.
type resampler struct {
	d        *design
	multiple []float64 // how often each customer was drawn
	weight   []float64 // per slot
}

func newResampler(d *design) *resampler {
	return &resampler{d, make([]float64, d.customers), make([]float64, 2*d.patterns())}
}

// draw makes one bootstrap sample: the weights of the slots and the share of
// remakes reported by each edge.
func (s *resampler) draw(rng *rand.Rand) (weight, share []float64) {
	stats.ResampleClusters(rng, s.multiple)
	stats.SumByPattern(s.weight, s.d.slot, s.d.customer, s.multiple, nil)
	return s.weight, reportShare(s.d, s.multiple)
}

// whole are the weights and shares of the orders as they are.
func (s *resampler) whole() (weight, share []float64) {
	for k := range s.multiple {
		s.multiple[k] = 1
	}
	stats.SumByPattern(s.weight, s.d.slot, s.d.customer, s.multiple, nil)
	return s.weight, reportShare(s.d, nil)
}

// A plan is how a bootstrap is run.
type plan struct {
	ctx        context.Context
	replicates int
	seed       uint64
	workers    int
	progress   func(done, total int)
}

func (o Options) plan() plan {
	return plan{o.Context, o.Replicates, o.Seed, o.Workers, o.Progress}
}

// run computes width numbers in each replicate; the result is [number]
// [replicate], nil when it was stopped.
func run[W any](p plan, width int, worker func() W, work func(w W, rng *rand.Rand, out []float64) error) *stats.Replicates {
	if p.ctx == nil {
		p.ctx = context.Background()
	}
	r := stats.Resample{Times: p.replicates, Width: width, Seed: p.seed, Workers: p.workers}
	if p.progress != nil {
		r.Progress = func(done int) { p.progress(done, p.replicates) }
	}
	reps, err := stats.Replicate(p.ctx, r, worker, work)
	if err != nil {
		return nil
	}
	return reps
}

// spread is the standard deviation of the replicates; NaN under two.
func spread(values []float64) float64 {
	n, mean, m2 := 0.0, 0.0, 0.0
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		n++
		d := v - mean
		mean += d / n
		m2 += d * (v - mean)
	}
	if n < 2 {
		return math.NaN()
	}
	return math.Sqrt(m2 / (n - 1))
}
