package remakes

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/stats"
)

// A refitter refits all models on one bootstrap sample after another.
type refitter struct {
	rs       *resampler
	whole    []riskModel // as fitted on all orders
	models   []riskModel
	tangents []*tangent // nil where remakes are few enough for full refits
}

// tangents are the models' tangents.
func tangents(whole []riskModel) []*tangent {
	var ts []*tangent
	for _, mo := range whole {
		ts = append(ts, newTangent(mo))
	}
	return ts
}

func newRefitter(d *design, whole []riskModel, ts []*tangent) *refitter {
	r := &refitter{rs: newResampler(d), whole: whole, tangents: ts}
	for _, mo := range whole {
		r.models = append(r.models, riskModel{mo.fit.fork(), mo.qs, mo.into})
	}
	return r
}

// replicate puts difference, ratio and remakes of each question into out, and
// last the remakes that go with all noted and counted faults.
func (r *refitter) replicate(rng *rand.Rand, out []float64) error {
	weight, share := r.rs.draw(rng)
	k := 0
	for i, mo := range r.models {
		mo.fit.weight, mo.fit.share = weight, share
		es, all := r.again(i)
		for _, e := range es {
			out[k], out[k+1], out[k+2] = e.difference(), e.ratio(), e.remakes
			k += 3
		}
		if i == 0 {
			out[len(out)-1] = all
		}
	}
	return nil
}

// again answers model i's questions on the drawn weights; by its tangent only
// the risks.
func (r *refitter) again(i int) (es []effect, all float64) {
	f, whole := r.models[i].fit, r.whole[i].fit
	if r.tangents == nil {
		copy(f.beta, whole.beta)
		if i > 0 && &f.ends[0] == &r.whole[0].fit.ends[0] {
			f.follow(r.models[0].fit, r.whole[0].fit)
		}
		f.refit(i == 0)
		return standardise(f, r.models[i].qs)
	}
	t := r.tangents[i]
	step := t.step(f)
	for _, l := range t.lines {
		es = append(es, l.answer(f.weight, step))
	}
	return es, math.NaN()
}

// follow moves the estimates as far as the joint model's have moved from the
// whole sample's: a good start for a model that only adds one fault to it.
func (f *fit) follow(joint, whole *fit) {
	for j, b := range whole.beta {
		f.beta[j] += joint.beta[j] - b
	}
}

// refit starts from the whole sample's estimates and goes on until it settles.
// The information is taken anew in the first rounds only; that of the last one
// is near enough to go on with.
func (f *fit) refit(joint bool) {
	switch {
	case f.firth:
		f.solve(8, 2, 3e-3)
		f.recentre()
	case joint:
		f.solve(8, 2, 3e-3)
	default:
		f.solve(8, 1, 3e-3)
	}
}

func interval(point float64, values []float64, n, remakes int) stats.Estimate {
	e := stats.Percentile(point, values, expanded(remakes), n)
	e.Level, e.Method = level, bootstrapped+" (expanded percentile)"
	return e
}

// leaning is the BCa interval with the acceleration given; where it has no
// answer the percentile interval serves.
func leaning(point float64, values []float64, acceleration float64, n, remakes int) stats.Estimate {
	e := interval(point, values, n, remakes)
	if !e.Bounded() {
		return e
	}
	sorted := slices.DeleteFunc(slices.Clone(values), math.IsNaN)
	slices.Sort(sorted)
	z0, tail := stats.BiasCorrection(point, sorted), (1-expanded(remakes))/2
	lo, hi := stats.BCaLevel(z0, acceleration, tail), stats.BCaLevel(z0, acceleration, 1-tail)
	if lo < hi {
		e.Low, e.High = stats.Quantile7(sorted, lo), stats.Quantile7(sorted, hi)
		e.Method = bootstrapped + " (expanded BCa)"
	}
	return e
}

// expanded is the level at which the replicates are cut, so that the interval
// covers as said where remakes are few. A resample spreads by sqrt((n-1)/n) too
// little, and bootstrap intervals are as much too narrow as normal ones where n
// is small; both are made up for, as in Hesterberg TC (2015) Am Stat
// 69:371-386: tails of Phi(-sqrt(n/(n-1)) t), t with n-1 degrees of freedom.
// n is here the remakes in the smaller arm: they, not the orders, carry the
// information.
func expanded(remakes int) float64 {
	if remakes < 2 {
		return level
	}
	n := float64(remakes)
	t := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile((1 + level) / 2)
	return 2*distuv.UnitNormal.CDF(t*math.Sqrt(n/(n-1))) - 1
}
