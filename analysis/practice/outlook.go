package practice

import (
	"math"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A Chance is how likely a learner points at a fault where it is planted.
type Chance struct {
	Fault  string         `json:"fault"`
	Finds  stats.Estimate `json:"finds"`
	Weight float64        `json:"weight"` // in the next set: the chance of missing it, some added
}

const (
	outlookMethod = "Rasch model with a learner's own weakness by fault, penalised likelihood"
	// ownSD is the SD of the normal penalty on how far a learner's weakness for one
	// fault departs from the fault's difficulty, logits. Judgement.
	ownSD = 1.5
	// fades is what an answer counts for of the same answer a round later: people
	// learn. Judgement.
	fades = 0.6
	// leastWeight keeps the faults that are always found in the sets.
	leastWeight = 0.1
)

// Outlook gives the chances of one of several learners. rounds are each learner's
// answers, round by round, the oldest first; who is the learner. With no answers at
// all every chance is an even one, and says that nothing is known.
//
// The log-odds of finding a planted fault are ability less difficulty less the
// learner's own weakness for it. Ability and difficulty come from all learners
// together (FitRasch has the source), the weakness from the learner's answers given
// these; each is drawn towards 0 by a normal penalty, so that one miss tells little.
// The interval is that of the weakness.
func Outlook(rounds [][][]Seen, who int) []Chance {
	faults := len(form.Faults)
	x, n := make([][]float64, len(rounds)), make([][]float64, len(rounds))
	for i, all := range rounds {
		x[i], n[i] = make([]float64, faults), make([]float64, faults)
		for back, round := range all {
			w := math.Pow(fades, float64(len(all)-1-back))
			for k, b := range tally(round) {
				x[i][k] += w * float64(b.found)
				n[i][k] += w * float64(b.Planted)
			}
		}
	}
	met := tally(slices.Concat(rounds[who]...))
	b, _ := rasch(x, n, spreadSD)
	out := make([]Chance, faults)
	for k, f := range form.Faults {
		usual := 0.0
		if b != nil {
			usual = b[who] - b[len(rounds)+k]
		}
		own, se := weakness(x[who][k], n[who][k], usual)
		half := stats.Z(stats.DefaultLevel) * se
		e := stats.Estimate{Point: usual + own, Low: usual + own - half, High: usual + own + half, Level: stats.DefaultLevel, N: met[k].Planted, Method: outlookMethod}
		e = e.Map(stats.Logistic)
		if e.N < fewest {
			e = e.Warn("too few to tell: look at the interval")
		}
		out[k] = Chance{f.ID, e, leastWeight + 1 - e.Point}
	}
	return out
}

// weakness maximises x·log p + (n-x)·log(1-p) - own²/(2 ownSD²) with p the logistic
// of usual + own, by Newton's method; the slope falls throughout, so it converges.
func weakness(x, n, usual float64) (own, se float64) {
	curve := 1 / (ownSD * ownSD)
	for range steps {
		p := stats.Logistic(usual + own)
		slope := x - n*p - own/(ownSD*ownSD)
		curve = n*p*(1-p) + 1/(ownSD*ownSD)
		step := slope / curve
		own += max(-1, min(1, step))
		if math.Abs(step) < 1e-10 {
			break
		}
	}
	return own, 1 / math.Sqrt(curve)
}

// Weights are those of a next set.
func Weights(chances []Chance) map[string]float64 {
	out := map[string]float64{}
	for _, c := range chances {
		out[c.Fault] = c.Weight
	}
	return out
}
