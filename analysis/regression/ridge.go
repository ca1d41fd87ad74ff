package regression

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/regression/sparse"
	"lastroom/analysis/stats"
)

// Ridge fits the model with a quadratic penalty: what is maximised is the log
// likelihood less half the sum of penalty(j) b(j)^2. Columns with penalty 0 are
// free, as the intercept is by custom. start, if given, holds estimates to start
// from.
//
// le Cessie S, van Houwelingen JC (1992) Appl Stat 41:191-201.
func (d *Design) Ridge(c Columns, w Weights, penalty, start []float64) (*Fit, error) {
	f := d.newFit(c, w)
	x, n := w.Events(), w.total()
	if x == 0 || x == n {
		return f, &TooFewError{Events: x, Subjects: n}
	}
	f.penalty = penalty
	f.Coef[0] = math.Log(x / (n - x))
	if start != nil {
		copy(f.Coef, start)
	}
	f.solve(50, 50, 1e-9)
	if !f.converged {
		return f, errUnsettled
	}
	return f, nil
}

// penalise adds the penalty to score and, if asked, information.
func (f *Fit) penalise(information bool) {
	for j, k := range f.penalty {
		f.sums.Score[j] -= k * f.Coef[j]
		if information {
			f.sums.Info[j*f.sums.P+j] += k
		}
	}
}

// Spread is the standard deviation (divisor N) of each column over the subjects
// at their weights: a penalty in proportion to its square favours no column for
// its unit.
func (d *Design) Spread(c Columns, w Weights) []float64 {
	x := d.rows(c)
	n, sum, square := w.total(), make([]float64, x.P), make([]float64, x.P)
	values, cols := make([]float64, x.P), make([]int, 0, x.P)
	for i := range d.Patterns() {
		cols = x.Dense(i, values, cols)
		for _, j := range cols {
			sum[j] += w.of(i) * values[j]
			square[j] += w.of(i) * values[j] * values[j]
		}
	}
	for j := range square {
		mean := sum[j] / n
		if square[j] = math.Sqrt(math.Max(0, square[j]/n-mean*mean)); square[j] < 1e-9*math.Abs(mean) {
			square[j] = 0
		}
	}
	return square
}

// Covariance is the inverse of the penalised information at the estimates: that
// of the estimates, the penalty taken as what is known of them beforehand.
func (f *Fit) Covariance() []float64 { return f.factor.Inverse() }

// Folds are what cross-validation needs of a fit: score and expected information
// of each fold's subjects at the estimates, without the penalty.
type Folds struct {
	fit  *Fit
	fold []sparse.Sums
	// Sums of the folds.
	wholeScore, wholeInfo []float64

	// Of the last move.
	score, info []float64
	factor      sparse.Factor
}

// NewFolds parts the subjects into so many folds, each cluster in one, and takes
// their parts at the estimates of f. times is how often each cluster counts; nil:
// once. One goroutine at a time may use them.
func NewFolds(f *Fit, folds int, times []float64) *Folds {
	p := f.sums.P
	x := &Folds{fit: f, wholeScore: make([]float64, p), wholeInfo: make([]float64, p*p),
		score: make([]float64, p), info: make([]float64, p*p), factor: sparse.NewFactor(p)}
	for range folds {
		x.fold = append(x.fold, f.sums.Rows.Sums())
	}
	for k, slot := range f.d.slot {
		i, c := int(slot/2), f.d.Cluster[k]
		n := 1.0
		if times != nil {
			n = times[c]
		}
		if n == 0 {
			continue
		}
		fold := &x.fold[int(uint64(c)*0x9e3779b97f4a7c15>>33%uint64(folds))]
		with, without, w := scoreContribution(f.risk[i], f.share(i))
		if slot%2 == 0 {
			with = without
		}
		fold.AddScore(i, n*with)
		fold.AddInformation(i, n*w)
	}
	for k := range x.fold {
		x.fold[k].SettleScore()
		x.fold[k].SettleInformation()
		floats.Add(x.wholeScore, x.fold[k].Score)
		floats.Add(x.wholeInfo, x.fold[k].Info)
	}
	return x
}

// move is the step from the fit's estimates to those of a score and information
// with the penalty, in the quadratic approximation at the fit's estimates.
func (x *Folds) move(score, info, penalty []float64) (step []float64) {
	copy(x.info, info)
	copy(x.score, score)
	for j, v := range penalty {
		x.info[j*len(penalty)+j] += v
		x.score[j] -= v * x.fit.Coef[j]
	}
	x.factor.Take(x.info)
	return x.factor.Solve(x.score)
}

// LeftOut is the sum of the log losses of the folds, each under the estimates
// that the others give with the penalty, less the loss at the fit's own
// estimates. Both are taken from the quadratic approximation of the likelihood at
// the fit's estimates, so that a penalty costs no pass over the subjects
// (TestLeftOutAgainstRefits holds it to full refits).
func (x *Folds) LeftOut(penalty []float64) float64 {
	p, loss := x.fit.sums.P, 0.0
	score, info := make([]float64, p), make([]float64, p*p)
	for k := range x.fold {
		step := x.move(floats.SubTo(score, x.wholeScore, x.fold[k].Score), floats.SubTo(info, x.wholeInfo, x.fold[k].Info), penalty)
		for i, a := range step {
			loss -= x.fold[k].Score[i] * a
			row := x.fold[k].Info[i*p:]
			loss += a*floats.Dot(row[:i], step[:i]) + row[i]*a*a/2
		}
	}
	return loss
}

// Estimates are those with another penalty, in the same approximation, and how
// many of each column are left in effect: 1 where the penalty does nothing, near
// 0 where it decides.
func (x *Folds) Estimates(penalty []float64) (coef, effective []float64) {
	coef = x.move(x.wholeScore, x.wholeInfo, penalty)
	effective = make([]float64, x.fit.sums.P)
	variance := x.factor.Inverse()
	for j, b := range x.fit.Coef {
		coef[j] += b
		effective[j] = 1 - penalty[j]*variance[j*x.fit.sums.P+j]
	}
	return coef, effective
}

// DrawKept is one bootstrap sample of the clusters: how often each came, and the
// weights with the share of events reported as it was on the whole.
func (s *Resampler) DrawKept(rng *rand.Rand, share []float64) (times []float64, w Weights) {
	stats.ResampleClusters(rng, s.multiple)
	return s.multiple, s.weights(share)
}

// Step is one Newton step from the estimates of f to those of other weights, with
// the information and the penalty of f.
func (f *Fit) Step(w Weights) []float64 {
	g := *f
	g.weights, g.sums = w, f.sums.Scores()
	for _, pattern := range w.counting {
		i := int(pattern)
		a, b, _ := scoreContribution(f.risk[i], g.share(i))
		g.sums.AddScore(i, w.Slot[2*i+1]*a+w.Slot[2*i]*b)
	}
	g.sums.SettleScore()
	g.penalise(false)
	step := f.factor.Solve(g.sums.Score)
	for j := range step {
		step[j] += f.Coef[j]
	}
	return step
}

// Risks are those of each pattern by the last edge at other estimates.
func (f *Fit) Risks(coef []float64) []float64 {
	out := make([]float64, len(f.risk))
	f.sums.Odds(coef, f.d.patterns(), out)
	for i, odds := range out {
		out[i] = odds / (1 + odds)
	}
	return out
}
