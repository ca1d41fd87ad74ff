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

// rasch maximises the log-likelihood of x of n found, learner by fault, less
// half the sum of squared abilities and difficulties over sd², by Newton's
// method. It gives abilities, then difficulties, with standard errors from the
// curvature; nil where that fails.
//
// The model as a logistic regression fitted by penalised likelihood: Pan T (2018)
// J Mod Appl Stat Methods 17(1) eP2645, doi 10.22237/jmasm/1530028025; he takes
// Firth's penalty. The normal one here keeps numbers finite that a few answers
// leave open; its SD is judgement.
func rasch(x, n [][]float64, sd float64) (b, se []float64) {
	learners, faults := len(x), len(x[0])
	all := learners + faults
	b = make([]float64, all)
	for range steps {
		slope, curve := mat.NewVecDense(all, nil), mat.NewSymDense(all, nil)
		for i, v := range b {
			slope.SetVec(i, -v/(sd*sd))
			curve.SetSym(i, i, 1/(sd*sd))
		}
		for i := range x {
			for k := range x[i] {
				j := learners + k
				p := 1 / (1 + math.Exp(b[j]-b[i]))
				rest, w := x[i][k]-n[i][k]*p, n[i][k]*p*(1-p)
				slope.SetVec(i, slope.AtVec(i)+rest)
				slope.SetVec(j, slope.AtVec(j)-rest)
				curve.SetSym(i, i, curve.At(i, i)+w)
				curve.SetSym(j, j, curve.At(j, j)+w)
				curve.SetSym(i, j, curve.At(i, j)-w)
			}
		}
		var ch mat.Cholesky
		var step mat.VecDense
		if !ch.Factorize(curve) || ch.SolveVecTo(&step, slope) != nil {
			return nil, nil
		}
		far := mat.Norm(&step, math.Inf(1))
		for i := range b {
			b[i] += step.AtVec(i) / max(1, far) // no step over one logit
		}
		if far < 1e-10 {
			var inverse mat.SymDense
			if ch.InverseTo(&inverse) != nil {
				return nil, nil
			}
			for i := range b {
				se = append(se, math.Sqrt(inverse.At(i, i)))
			}
			return b, se
		}
	}
	return nil, nil
}
