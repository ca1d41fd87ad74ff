package rules

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

const correctedMethod = "avoidable per 100, less the optimism of its rank (bootstrap by customer)"

// enoughForMean is how many resamples a mean optimism needs at most: it is a
// mean, where an interval needs quantiles (judgement).
const enoughForMean = 200

// correct takes the optimism out of the scorecard. A rule that stands first
// among many stands there partly by luck: in each resample the rules are ranked
// anew, and the figure of the rule at each rank is held against what the same
// rule has on the orders as they are. The mean excess at a rank is taken off
// the rule that holds this rank; nothing is ever added.
// After Harrell FE, Lee KL, Mark DB (1996) Stat Med 15:361-387.
func (s *scorer) correct(ctx context.Context, applied []Applied, d *Scorecard, o Options) {
	if o.Replicates <= 0 || len(s.rows) == 0 {
		return
	}
	var judged []int
	for k := range d.Rules {
		if d.Rules[k].TooFew == "" && d.Rules[k].Avoidable.Given() && len(applied[k].Held) == s.c.Len() {
			judged = append(judged, k)
		}
	}
	if len(judged) == 0 {
		return
	}
	p := s.patterns(applied, judged)
	apparent := p.values(p.count(nil), d.Success)
	r := stats.Resample{Times: min(o.Replicates, enoughForMean), Width: len(judged), Seed: o.Seed, Workers: o.Workers}
	reps, err := stats.Replicate(ctx, r, func() *[2][]float64 { return &[2][]float64{make([]float64, p.customers), make([]float64, len(p.keys))} },
		func(w *[2][]float64, rng *rand.Rand, out []float64) error {
			stats.ResampleClusters(rng, w[0])
			stats.SumByPattern(w[1], p.slot, p.customer, w[0], nil)
			v := p.values(w[1], d.Success)
			for rank, j := range ranked(v) {
				out[rank] = v[j] - apparent[j]
			}
			return nil
		})
	if err != nil {
		return
	}
	for rank, j := range ranked(apparent) {
		e := d.Rules[judged[j]].Avoidable
		optimism := meanFinite(reps.Values[rank]) * 100
		if math.IsNaN(optimism) {
			continue
		}
		optimism = math.Max(0, optimism) // low ranks are no reason to add any
		e.Point, e.Low, e.High = e.Point-optimism, e.Low-optimism, e.High-optimism
		e.Method = correctedMethod
		d.Rules[judged[j]].Corrected = e
	}
}

// ranked are the indices of v, highest first, NaN last.
func ranked(v []float64) []int {
	order := make([]int, len(v))
	for j := range order {
		order[j] = j
	}
	slices.SortStableFunc(order, func(a, b int) int { return -cmp.Compare(v[a], v[b]) })
	return order
}

func meanFinite(v []float64) float64 {
	s, n := 0.0, 0.0
	for _, x := range v {
		if !math.IsNaN(x) && !math.IsInf(x, 0) {
			s, n = s+x, n+1
		}
	}
	return s / n
}

// heldPatterns are the mature orders grouped by what the rules say of them,
// whether they were cut as they came, and whether they were remade.
type heldPatterns struct {
	keys           []string
	rules          int
	slot, customer []int32 // per order
	customers      int
}

func (s *scorer) patterns(applied []Applied, judged []int) heldPatterns {
	p := heldPatterns{rules: len(judged)}
	slots, customers := map[string]int32{}, map[int32]int32{}
	key := make([]byte, len(judged)+1)
	for _, i := range s.rows {
		for j, k := range judged {
			key[j] = byte(applied[k].Held[i])
		}
		key[len(judged)] = 0
		if s.cutFirst[i] {
			key[len(judged)] |= 1
		}
		if remakes.Event(s.c, i) {
			key[len(judged)] |= 2
		}
		slot, ok := slots[string(key)]
		if !ok {
			slot = int32(len(p.keys))
			slots[string(key)] = slot
			p.keys = append(p.keys, string(key))
		}
		who, ok := customers[s.c.Customer[i]]
		if !ok {
			who = int32(len(customers))
			customers[s.c.Customer[i]] = who
		}
		p.slot, p.customer = append(p.slot, slot), append(p.customer, who)
	}
	p.customers = len(customers)
	return p
}

// count is the number of orders in each slot.
func (p heldPatterns) count(into []float64) []float64 {
	if into == nil {
		into = make([]float64, len(p.keys))
	}
	for _, s := range p.slot {
		into[s]++
	}
	return into
}

// values are the avoidable shares of the rules.
func (p heldPatterns) values(weight []float64, success float64) []float64 {
	v := make([]float64, p.rules)
	for j := range v {
		var w weighed
		for k, key := range p.keys {
			if weight[k] > 0 {
				flags := key[p.rules]
				w.add(form.State(key[j]), flags&1 != 0, flags&2 != 0, weight[k])
			}
		}
		v[j] = w.avoidable(success)
	}
	return v
}
