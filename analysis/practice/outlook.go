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
// The log-odds of finding a planted fault are ability less difficulty, and how far this
// learner departs for this fault (a Rasch model with departures; FitRasch has the
// source). All are fitted together for all learners, each drawn towards 0 by a normal
// penalty, so that one miss tells little; intervals are from the curvature.
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
	fit := fitRasch(x, n, spreadSD, ownSD)
	out := make([]Chance, faults)
	for k, f := range form.Faults {
		e := stats.Missing(met[k].Planted, outlookMethod, "the model can't be fitted")
		weight := 0.5
		if fit != nil {
			logit, se := fit.at(who, k)
			half := stats.Z(stats.DefaultLevel) * se
			e = stats.Estimate{Point: logit, Low: logit - half, High: logit + half, Level: stats.DefaultLevel, N: met[k].Planted, Method: outlookMethod}
			e = e.Map(stats.Logistic)
			weight = 1 - e.Point
		}
		if e.N < fewest {
			e = e.Warn("too few to tell: look at the interval")
		}
		out[k] = Chance{f.ID, e, leastWeight + weight}
	}
	return out
}

// Weights are those of a next set.
func Weights(chances []Chance) map[string]float64 {
	out := map[string]float64{}
	for _, c := range chances {
		out[c.Fault] = c.Weight
	}
	return out
}
