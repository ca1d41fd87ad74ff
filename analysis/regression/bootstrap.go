package regression

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/stats"
)

// A Resampler draws clusters with replacement (subjects of one are not
// independent) and keeps the working memory of one worker.
type Resampler struct {
	d        *Design
	multiple []float64 // how often each cluster was drawn
	slot     []float64
	counting []int32
}

// NewResampler makes one for the design.
func NewResampler(d *Design) *Resampler {
	return &Resampler{d, make([]float64, d.Clusters), make([]float64, 2*d.Patterns()), make([]int32, 0, d.Patterns())}
}

// Draw makes one bootstrap sample. The weights are good until the next draw.
func (s *Resampler) Draw(rng *rand.Rand) Weights {
	stats.ResampleClusters(rng, s.multiple)
	return s.weights(s.d.reportShare(s.multiple))
}

func (s *Resampler) weights(share []float64) Weights {
	stats.SumByPattern(s.slot, s.d.slot, s.d.Cluster, s.multiple)
	return Weights{Slot: s.slot, Share: share}.count(s.counting)
}

// Times is how often a cluster came in the last draw.
func (s *Resampler) Times(cluster int32) float64 { return s.multiple[cluster] }

// A Refitter refits models on one bootstrap sample after another. It belongs
// to one worker.
type Refitter struct {
	*Resampler
	whole          []Model // as fitted on all subjects
	models         []Model
	linearizations []*Linearization // nil where events are few enough for full refits
}

// Linearize makes the linearizations that [NewRefitter] may use for replicates
// by one step; they may be shared.
func Linearize(models []Model) []*Linearization {
	ls := make([]*Linearization, len(models))
	for i, m := range models {
		ls[i] = NewLinearization(m).respondAll()
	}
	return ls
}

// NewRefitter makes one of models fitted on all subjects of the design; by
// linearizations one step is taken, without (nil) the models are refitted.
func NewRefitter(d *Design, whole []Model, linearizations []*Linearization) *Refitter {
	r := &Refitter{NewResampler(d), whole, nil, linearizations}
	for _, m := range whole {
		r.models = append(r.models, Model{m.Fit.fork(), m.Questions})
	}
	return r
}

// Replicate draws a sample and puts difference, ratio and events of each
// question of each model into out, and last the events that go with all
// exposures of the first model.
func (r *Refitter) Replicate(rng *rand.Rand, out []float64) {
	w := r.Draw(rng)
	k := 0
	for i := range r.models {
		es, all := r.Answer(i, w)
		for _, e := range es {
			out[k], out[k+1], out[k+2] = e.Difference(), e.Ratio(), e.Events
			k += 3
		}
		if i == 0 {
			out[len(out)-1] = all
		}
	}
}

// Answer answers model i's questions on drawn weights; by one step only the
// risks.
func (r *Refitter) Answer(i int, w Weights) (es []Effect, all float64) {
	f, whole := r.models[i].Fit, r.whole[i].Fit
	f.weights = w
	if r.linearizations != nil {
		t := r.linearizations[i]
		step := t.step(f)
		for _, l := range t.responses {
			es = append(es, l.answer(w, step))
		}
		return es, math.NaN()
	}
	copy(f.Coef, whole.Coef)
	if first := r.whole[0].Fit; i > 0 && f.columns.Exposures == first.columns.Exposures {
		// A model that only adds one exposure to the first moves as that did.
		for j, b := range first.Coef {
			f.Coef[j] += r.models[0].Fit.Coef[j] - b
		}
	}
	f.refit(i == 0)
	return r.models[i].Standardise()
}

// refit starts from the whole sample's estimates and goes on until it settles.
// The information is taken anew in the first rounds only; that of the last one
// is near enough to go on with.
func (f *Fit) refit(first bool) {
	refresh := 1
	if f.Firth || first {
		refresh = 2
	}
	f.solve(8, refresh, closeBy)
	if f.Firth {
		f.recentre()
	}
}

// A Bootstrap says how replicates are made.
type Bootstrap struct {
	Replicates int
	Seed       uint64
	Workers    int // 0 means one a processor; the numbers do not depend on it
	// Progress, if set, is told of replicates done; it may be called from
	// several goroutines.
	Progress func(done, total int)
}

// Run computes width numbers in each replicate; the result is [number]
// [replicate], nil when the context ended it.
func Run[W any](ctx context.Context, b Bootstrap, width int, worker func() W, work func(w W, rng *rand.Rand, out []float64)) [][]float64 {
	r := stats.Resample{Times: b.Replicates, Width: width, Seed: b.Seed, Workers: b.Workers}
	if b.Progress != nil {
		r.Progress = func(done int) { b.Progress(done, b.Replicates) }
	}
	reps, err := stats.Replicate(ctx, r, worker, func(w W, rng *rand.Rand, out []float64) error {
		work(w, rng, out)
		return nil
	})
	if err != nil {
		return nil
	}
	return reps.Values
}

// Spread is the standard deviation of the replicates; NaN under two.
func Spread(values []float64) float64 {
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

// Percentile is point with the bootstrap percentile interval at the level of
// few events (expandedLevel).
func Percentile(point float64, values []float64, n, events int) stats.Estimate {
	return byCluster(stats.Percentile(point, values, expandedLevel(events), n))
}

// BCa is the bias-corrected and accelerated interval at the level of few
// events; where it has no answer the percentile interval serves.
func BCa(point float64, values []float64, acceleration float64, n, events int) stats.Estimate {
	return byCluster(stats.BCa(point, values, acceleration, expandedLevel(events), n))
}

// byCluster names the level that was asked for, and the resampling.
func byCluster(e stats.Estimate) stats.Estimate {
	e.Level = stats.DefaultLevel
	e.Method = "bootstrap by customer (expanded " + strings.TrimPrefix(e.Method, "bootstrap ") + ")"
	return e
}

// expandedLevel is the level at which the replicates are cut, so that the
// interval covers as said where events are few. A resample spreads by
// sqrt((n-1)/n) too little, and bootstrap intervals are as much too narrow as
// normal ones where n is small; both are made up for, as in Hesterberg TC
// (2015) Am Stat 69:371-386: tails of Phi(-sqrt(n/(n-1)) t), t with n-1 degrees
// of freedom. n is here the events in the smaller arm: they, not the subjects,
// carry the information.
func expandedLevel(events int) float64 {
	const level = stats.DefaultLevel
	if events < 2 {
		return level
	}
	n := float64(events)
	t := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile((1 + level) / 2)
	return 2*distuv.UnitNormal.CDF(t*math.Sqrt(n/(n-1))) - 1
}
