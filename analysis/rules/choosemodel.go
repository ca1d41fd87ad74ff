package rules

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// ModelID is the id of the risk model where it is a candidate.
const ModelID = "risk-model"

// modelRule holds the first forms that the risk model says are worth a call: from
// where a call-back saves what it costs, and no more than can be called.
func (k *chooser) modelRule(applied []Applied) Applied {
	var falls []float64
	for _, i := range k.rows {
		if hasForm(applied, i) {
			falls = append(falls, k.o.Model[i])
		}
	}
	slices.Sort(falls)
	least := math.SmallestNonzeroFloat64
	if k.d.For == "money" && *k.o.Costs.Remake > 0 {
		least = math.Max(least, k.call / *k.o.Costs.Remake / k.done.share)
	}
	if room := k.most(); room < float64(len(falls)) {
		least = math.Max(least, math.Nextafter(falls[len(falls)-1-int(room)], 1))
	}
	k.d.ModelFrom = stats.Value(k.done.share * least)
	a := Applied{Rule{ID: ModelID, Title: fmt.Sprintf("The risk model: a call-back avoids at least %.2g remakes in 100", 100*k.done.share*least)}, make([]form.State, k.c.Len())}
	for i := range a.Held {
		switch {
		case !hasForm(applied, i):
			a.Held[i] = form.NotAtRisk
		case k.o.Model[i] >= least:
			a.Held[i] = form.With
		default:
			a.Held[i] = form.Without
		}
	}
	k.flatters = k.flattery(a.Held, k.o.Seed)
	return a
}

// modelOptimism is what the risk model flatters itself by where it is in a set.
func (k *chooser) modelOptimism(set []int) float64 {
	if k.model < 0 || !slices.Contains(set, k.model) {
		return 0
	}
	return k.flatters
}
