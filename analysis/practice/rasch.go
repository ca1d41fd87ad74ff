package practice

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A Rasch tells able learners from easy faults: the log-odds that a learner
// points at a planted fault is ability less difficulty. Logits; 0 is the middle.
type Rasch struct {
	Abilities    []LearnerAbility  `json:"abilities"`
	Difficulties []FaultDifficulty `json:"difficulties"`
}

// A LearnerAbility is how well one finds faults, whichever were planted.
type LearnerAbility struct {
	Learner string         `json:"learner"`
	Ability stats.Estimate `json:"ability"`
}

// A FaultDifficulty is how hard a fault is to find, whoever looks.
type FaultDifficulty struct {
	Fault      string         `json:"fault"`
	Difficulty stats.Estimate `json:"difficulty"`
}

const (
	raschMethod = "Rasch model, penalised likelihood"
	// spreadSD is the SD of the normal penalty on abilities and difficulties: 19 of
	// 20 lie within 3 logits, a chance of 5 to 95 %. Judgement.
	spreadSD = 1.5
	steps    = 100
)

// FitRasch fits the model to markings of one set. With fewer than three
// learners nobody can say whether a fault is hard or a learner weak: then no
// number is given.
func FitRasch(marked []Marking) Rasch {
	var x, n [][]float64
	for _, m := range marked {
		var xs, ns []float64
		for _, b := range m.Faults {
			xs, ns = append(xs, float64(b.found)), append(ns, float64(b.Planted))
		}
		x, n = append(x, xs), append(n, ns)
	}
	const learners = 3
	var b, se []float64
	if len(marked) >= learners {
		b, se = rasch(x, n, spreadSD)
	}
	at := func(i int, count float64) stats.Estimate {
		if i >= len(b) || count == 0 {
			return stats.Missing(int(count), raschMethod, "too few to tell: at least three learners, and forms with the fault")
		}
		half := stats.Z(stats.DefaultLevel) * se[i]
		return stats.Estimate{Point: b[i], Low: b[i] - half, High: b[i] + half, Level: stats.DefaultLevel, N: int(count), Method: raschMethod}
	}
	var out Rasch
	for i, m := range marked {
		sum := 0.0
		for _, k := range n[i] {
			sum += k
		}
		out.Abilities = append(out.Abilities, LearnerAbility{m.Learner, at(i, sum)})
	}
	for k, f := range form.Faults {
		sum := 0.0
		for i := range marked {
			sum += n[i][k]
		}
		out.Difficulties = append(out.Difficulties, FaultDifficulty{f.ID, at(len(marked)+k, sum)})
	}
	return out
}

// rasch maximises the log-likelihood of x of n found, learner by fault, less half the
// sum of squared abilities and difficulties over sd², by Newton's method. It gives
// abilities, then difficulties, with standard errors from the curvature; nil where
// that fails.
//
// The model as a logistic regression fitted by penalised likelihood: Pan T (2018)
// J Mod Appl Stat Methods 17(1) eP2645, doi 10.22237/jmasm/1530028025; he takes
// Firth's penalty. The normal one here keeps numbers finite that a few answers
// leave open; its SD is judgement.
func rasch(x, n [][]float64, sd float64) (b, se []float64) {
	f := fitRasch(x, n, sd, 0)
	if f == nil {
		return nil, nil
	}
	for i := range f.b {
		se = append(se, math.Sqrt(f.inverse.At(i, i)))
	}
	return f.b, se
}

// A fitted is a Rasch model in which each learner may depart by fault.
type fitted struct {
	b       []float64     // abilities, then difficulties
	inverse mat.Symmetric // of the curvature, the departures taken out
	own     [][]float64   // departures, learner by fault
	weight  [][]float64   // n·p·(1-p) of each
	ownSD   float64
}

// fitRasch maximises the log-likelihood less half the sum of squared abilities and
// difficulties over sd² and of squared departures over ownSD²; ownSD 0 allows none.
// A departure stands in one cell alone, so each step solves for abilities and
// difficulties with the departures taken out (their Schur complement), then for
// these. nil where that fails.
func fitRasch(x, n [][]float64, sd, ownSD float64) *fitted {
	learners, faults := len(x), len(x[0])
	all := learners + faults
	f := &fitted{b: make([]float64, all), own: make([][]float64, learners), weight: make([][]float64, learners), ownSD: ownSD}
	for i := range f.own {
		f.own[i], f.weight[i] = make([]float64, faults), make([]float64, faults)
	}
	b := f.b
	for range steps {
		slope, curve := mat.NewVecDense(all, nil), mat.NewSymDense(all, nil)
		for i, v := range b {
			slope.SetVec(i, -v/(sd*sd))
			curve.SetSym(i, i, 1/(sd*sd))
		}
		rest := make([][]float64, learners)
		for i := range x {
			rest[i] = make([]float64, faults)
			for k := range x[i] {
				j := learners + k
				p := 1 / (1 + math.Exp(b[j]-b[i]-f.own[i][k]))
				r, w := x[i][k]-n[i][k]*p, n[i][k]*p*(1-p)
				rest[i][k], f.weight[i][k] = r, w
				if ownSD > 0 {
					free := w + 1/(ownSD*ownSD)
					r -= w / free * (r - f.own[i][k]/(ownSD*ownSD))
					w /= 1 + w*ownSD*ownSD
				}
				slope.SetVec(i, slope.AtVec(i)+r)
				slope.SetVec(j, slope.AtVec(j)-r)
				curve.SetSym(i, i, curve.At(i, i)+w)
				curve.SetSym(j, j, curve.At(j, j)+w)
				curve.SetSym(i, j, curve.At(i, j)-w)
			}
		}
		var ch mat.Cholesky
		var step mat.VecDense
		if !ch.Factorize(curve) || ch.SolveVecTo(&step, slope) != nil {
			return nil
		}
		far := mat.Norm(&step, math.Inf(1))
		if ownSD > 0 {
			far = max(far, f.depart(rest, &step, max(1, far)))
		}
		for i := range b {
			b[i] += step.AtVec(i) / max(1, mat.Norm(&step, math.Inf(1))) // no step over one logit
		}
		if far < 1e-10 {
			var inverse mat.SymDense
			if ch.InverseTo(&inverse) != nil {
				return nil
			}
			f.inverse = &inverse
			return f
		}
	}
	return nil
}

// depart moves the departures to where they belong after a step of abilities and
// difficulties, cut by so much, and says how far the farthest went.
func (f *fitted) depart(rest [][]float64, step *mat.VecDense, cut float64) (far float64) {
	learners := len(f.own)
	for i := range f.own {
		for k := range f.own[i] {
			w, tight := f.weight[i][k], 1/(f.ownSD*f.ownSD)
			u := (step.AtVec(i) - step.AtVec(learners+k)) / cut
			d := (rest[i][k] - f.own[i][k]*tight - w*u) / (w + tight)
			far = max(far, math.Abs(d))
			f.own[i][k] += max(-1, min(1, d))
		}
	}
	return far
}

// at is the log-odds of one learner and fault, with its standard error.
func (f *fitted) at(i, k int) (logit, se float64) {
	j := len(f.own) + k
	between := f.inverse.At(i, i) + f.inverse.At(j, j) - 2*f.inverse.At(i, j)
	tight := 1 / (f.ownSD * f.ownSD)
	free := f.weight[i][k] + tight
	return f.b[i] - f.b[j] + f.own[i][k], math.Sqrt(1/free + tight/free*tight/free*between)
}
