package rules

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A DeskHeld is what the form desk would have held of the first forms, by one of
// its verdicts or at one threshold of its alarm.
type DeskHeld struct {
	Applied
	Verdict    string  // "": a threshold
	AlarmShare float64 // of good forms that are as odd
	InForce    string  // from where on doubts hold, of a verdict as the desk gives it now
	Picked     bool    // forms were picked by what a model says of these same orders
}

// A DeskLine is the desk's own line of the scorecard.
type DeskLine struct {
	Verdict string `json:"verdict,omitempty" cbor:"verdict"`
	// Threshold is of what ThresholdOf names; a form that reaches it is held.
	Threshold   *float64 `json:"threshold,omitempty" cbor:"threshold"`
	ThresholdOf string   `json:"threshold_of,omitempty" cbor:"threshold_of"`
	// Default says why this threshold is the one to hold by; "" where it is not.
	Default string `json:"default,omitempty" cbor:"default"`
	// InForce says by what doubts hold a form, of a verdict as the desk gives it now;
	// "" of what it might do otherwise.
	InForce string `json:"in_force,omitempty" cbor:"in_force"`
	Scored
}

// What thresholds are of. Alarms hold what is odder than that share of good forms,
// savings what avoids at least so many remakes a call-back.
const (
	ofAlarm  = "share of good forms that are as odd"
	ofSaving = "remakes avoided per call-back"
)

// savings are the thresholds that are always looked at; judgement.
var savings = []float64{0.02, 0.05, 0.10, 0.20, 0.30}

// deskLines scores the desk beside the rules: its verdicts and alarms as they are,
// and forms held by what a call-back can be expected to avoid, from where it pays
// by the costs.
func (s *scorer) deskLines(d *Scorecard, done success, o Options) {
	for _, h := range o.Desk {
		line := DeskLine{Verdict: h.Verdict, InForce: h.InForce, Scored: s.oneLine(h.Applied, d, done)}
		if h.Verdict == "" {
			line.Threshold, line.ThresholdOf = &h.AlarmShare, ofAlarm
		}
		line.Corrected = line.Avoidable // it was not picked by its rank
		if h.Picked && s.mending.Why == "" {
			flatters := s.flattery(h.Held, o.Seed)
			line.Corrected = line.Avoidable.Map(func(x float64) float64 { return x - 100*done.share*flatters })
			line.Corrected.Method = pickedMethod
		}
		d.Desk = append(d.Desk, s.finish(line, d))
	}
	if len(o.Desk) == 0 || s.mending.Why != "" || d.Success <= 0 {
		return
	}
	first := o.Desk[0].Held
	target := s.mending.Target(func(i int) bool { return first[i] != form.NotAtRisk })
	falls := target.Falls()
	thresholds, chosen := s.savings(falls, first, *d, o)
	least := make([]float64, len(thresholds))
	for k, t := range thresholds {
		least[k] = t / done.share
	}
	optimism := target.Optimism(folds, foldsOf(s.mending.Clusters(), o.Seed, 0), least)
	lines := make([]DeskLine, len(thresholds))
	stats.Parallel(o.Workers, len(thresholds), func(k int) {
		a := Applied{Rule{ID: fmt.Sprintf("desk: saves %.3g", thresholds[k]), Title: fmt.Sprintf("a call-back can be expected to avoid at least %.3g remakes in 100", 100*thresholds[k])}, slices.Clone(first)}
		for i, h := range a.Held {
			switch {
			case h == form.NotAtRisk:
			case falls[i] >= least[k]:
				a.Held[i] = form.With
			default:
				a.Held[i] = form.Without
			}
		}
		line := DeskLine{Threshold: &thresholds[k], ThresholdOf: ofSaving, Default: chosen[thresholds[k]], Scored: s.oneLine(a, d, done)}
		line.Corrected = line.Avoidable.Map(func(x float64) float64 { return x - 100*done.share*optimism[k] })
		line.Corrected.Method = pickedMethod
		lines[k] = s.finish(line, d)
	})
	d.Desk = append(d.Desk, lines...)
}

const pickedMethod = "avoidable per 100, less the optimism of picking forms by the model that judges them (tenfold cross-fitting by customer)"

// flattery is the optimism, per first form, of picking as many of them by the model
// that judges them as are held.
func (s *scorer) flattery(held []form.State, seed uint64) float64 {
	target := s.mending.Target(func(i int) bool { return held[i] != form.NotAtRisk })
	own := target.Falls()
	var of []float64
	n := 0
	for _, i := range s.rows {
		switch held[i] {
		case form.NotAtRisk:
			continue
		case form.With:
			n++
		}
		of = append(of, own[i])
	}
	if n == 0 {
		return 0
	}
	slices.Sort(of)
	return target.Optimism(folds, foldsOf(s.mending.Clusters(), seed, 0), []float64{of[len(of)-n]})[0]
}

// savings are the thresholds to look at, ascending, and why any of them is the
// one to hold by: the share of forms that may be held, or else where a call-back
// costs as much as it saves.
func (s *scorer) savings(falls []float64, first []form.State, d Scorecard, o Options) (list []float64, why map[float64]string) {
	list, why = slices.Clone(savings), map[float64]string{}
	mine, reason := math.NaN(), ""
	if call, paid := callCost(d.Costs, d.Ledger); paid && d.Costs.Remake != nil && *d.Costs.Remake > 0 {
		mine, reason = call / *d.Costs.Remake, "from here on a call-back saves what it costs"
	}
	if o.HoldShare > 0 {
		var of []float64
		for _, i := range s.rows {
			if first[i] != form.NotAtRisk {
				of = append(of, falls[i])
			}
		}
		slices.Sort(of)
		if n := len(of); n > 0 {
			at := of[max(0, n-1-int(o.HoldShare*float64(n)))]
			// Above the form that is one too many, and above nothing at all.
			mine, reason = math.Max(at, 1e-6)*(1+1e-9)*d.Success, fmt.Sprintf("holds at most %.3g %% of first forms", 100*o.HoldShare)
		}
	}
	if mine > 0 {
		list, why[mine] = append(list, mine), reason
	}
	slices.Sort(list)
	return slices.Compact(list), why
}

// oneLine is a line of the scorecard on its own.
func (s *scorer) oneLine(a Applied, d *Scorecard, done success) Scored {
	r := s.score(a, *d)
	s.weighOne(a, &r, done)
	return r
}

// finish sets what follows from the corrected figure.
func (s *scorer) finish(line DeskLine, d *Scorecard) DeskLine {
	line.Net = net(line.Scored, d.Costs, d.Ledger)
	line.Words = line.say(*d)
	return line
}

// foldsOf puts each of n clusters in one of the folds, in a given round.
func foldsOf(n int, seed uint64, round int) []int {
	part := make([]int, n)
	for i := range part {
		part[i] = i % folds
	}
	rng := stats.Source(seed^0x466f6c64, round)
	rng.Shuffle(n, func(i, j int) { part[i], part[j] = part[j], part[i] })
	return part
}
