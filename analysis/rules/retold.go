package rules

import (
	"math"

	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// AvoidableBy is what each rule of a scorecard avoids per 100 first forms by
// another model of the outcomes of the same orders (package sensitivity); applied
// are the rules that the scorecard was made of.
func AvoidableBy(k *remakes.Mending, d Scorecard, applied []Applied, o Options) []stats.Estimate {
	done := successOf(o, d.Ledger)
	out := make([]stats.Estimate, len(d.Rules))
	for j, r := range d.Rules {
		n := r.Held + r.NotHeld + r.Unknown
		if r.TooFew != "" {
			out[j] = stats.Missing(n, worthMethod, r.TooFew)
			continue
		}
		c, _, why := k.Of(applied[j].Held, faultsOf(applied[j].Rule))
		if why != "" {
			out[j] = stats.Missing(n, worthMethod, why)
			continue
		}
		remade := func(e stats.Estimate) int { return int(math.Round(e.Point * float64(e.N))) }
		out[j] = avoided(c.Mean, c.Jackknife(), done, n, min(remade(r.RateHeld), remade(r.RateNotHeld)))
	}
	return out
}

// NetAt is what 100 first forms would gain by the rule if it were worth so much.
func (d Scorecard) NetAt(r Scored, worth stats.Estimate) stats.Estimate {
	r.Avoidable, r.Corrected = worth, worth
	return net(r, d.Costs, d.Ledger)
}
