package risk

import (
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A Decision is the decision curve of one way to hold forms: its net benefit at
// each threshold of risk from which a call-back is worth its trouble.
type Decision struct {
	Strategy string         `json:"strategy"`
	Points   []BenefitPoint `json:"points"`
}

// A BenefitPoint is the net benefit, in remakes foreseen per 100 orders, at a
// threshold.
type BenefitPoint struct {
	Threshold stats.Value    `json:"threshold"`
	Held      stats.Value    `json:"held"` // share of the orders
	Benefit   stats.Estimate `json:"net_benefit_per_100"`
}

// Ways to hold forms that need no model.
const (
	HoldAll  = "hold all"
	HoldNone = "hold none"
)

// thresholds of the decision curves: from one remake in fifty to two in five, as
// costs of a remake from 49 to 1.5 times those of a call-back.
var thresholds = []float64{0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.14, 0.16, 0.18, 0.20, 0.25, 0.30, 0.40}

// decisions are the decision curves on the later orders. Forms are taken as they
// were cut, so that what call-backs mended is in none of them.
func decisions(f *foresight, o Options) []Decision {
	n := len(f.rows)
	chosen := make([]bool, n)
	curve := func(name string, holds func(k int, threshold float64) bool) Decision {
		d := Decision{Strategy: name}
		for _, t := range thresholds {
			share := 0.0
			for k := range chosen {
				if chosen[k] = holds(k, t); chosen[k] {
					share += 1 / float64(n)
				}
			}
			b := stats.NetBenefit(chosen, f.event, t, stats.DefaultLevel).Map(func(x float64) float64 { return 100 * x })
			d.Points = append(d.Points, BenefitPoint{stats.Value(t), stats.Value(share), b})
		}
		return d
	}
	list := []Decision{
		curve(modelItself, func(k int, t float64) bool { return f.risk[k] >= t }),
		curve(countOfFaults, func(k int, t float64) bool { return f.by[countOfFaults][k] >= t }),
	}
	strategies := o.Strategies
	if o.Held != nil {
		strategies = append([]Strategy{{Name: o.HeldBy, Held: o.Held}}, strategies...)
	}
	for _, s := range strategies {
		list = append(list, curve(s.Name, func(k int, t float64) bool {
			return s.Held[f.rows[k]] == form.With || s.Weighed && o.Success*f.falls[k] >= t
		}))
	}
	return append(list, curve(HoldAll, func(int, float64) bool { return true }), curve(HoldNone, func(int, float64) bool { return false }))
}
