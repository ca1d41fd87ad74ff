package demo

import (
	"math"
	"math/rand/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// An outcome is one report of fit.
type outcome struct {
	on                                   cohort.Day
	result, zone, direction, side, cause string
	cost                                 int // 0: not given
}

// live draws what comes back after shipping. A pair returned for the money is
// never remade; a remake may follow an adjustment that did not help.
func (w *workshop) live(r *rand.Rand, o *order) {
	remake := chance(r, logistic(o.logit))
	remadeOn := o.shipped + lognormal(r, 45, 0.75)
	returned := chance(r, 0.013)
	returnedOn := o.shipped + lognormal(r, 30, 0.6)
	switch {
	case returned && (!remake || returnedOn < remadeOn):
		o.outcomes = append(o.outcomes, o.complaint(r, "returned", returnedOn))
		return
	case remake:
		o.remade = remadeOn
		if gap := cohort.Day(8 + r.IntN(25)); remadeOn-gap > o.shipped && chance(r, 0.3) {
			o.outcomes = append(o.outcomes, o.complaint(r, "adjusted", remadeOn-gap))
		}
		o.outcomes = append(o.outcomes, o.complaint(r, "remade", remadeOn))
		if chance(r, 0.4) {
			o.outcomes = append(o.outcomes, outcome{on: remadeOn + 60 + cohort.Day(r.IntN(60)), result: "kept"})
		}
	case chance(r, 0.08):
		o.outcomes = append(o.outcomes, o.complaint(r, "adjusted", o.shipped+lognormal(r, 25, 0.8)))
	case chance(r, 0.45):
		o.outcomes = append(o.outcomes, outcome{on: o.shipped + 25 + cohort.Day(r.IntN(80)), result: "kept"})
	}
}

// complaint is a report with a zone. A fault that helped to bring it about
// shows in the fault's own zones and, mostly, in the shop's verdict; otherwise
// both follow the shop's usual mix.
func (o *order) complaint(r *rand.Rand, result string, on cohort.Day) outcome {
	c := outcome{on: on, result: result, cost: cost(r, result, o.shaft)}
	f := o.blame(r)
	if f >= 0 {
		c.zone = string(pickZone(r, form.Faults[f].Zones))
		c.cause = []string{"measuring", "pattern", "unknown"}[pick(r, []float64{78, 8, 14})]
	} else {
		c.zone = string(form.Zones[pick(r, zoneShare)])
		c.cause = []string{"making", "pattern", "material", "preference", "measuring", "unknown"}[pick(r, []float64{28, 22, 10, 18, 8, 14})]
	}
	c.direction = direction(r, c.zone)
	c.side = []string{"left", "right", "both"}[pick(r, []float64{28, 30, 42})]
	if chance(r, 0.07) {
		c.zone, c.direction = "", ""
	}
	return c
}

var zoneShare = []float64{14, 10, 20, 16, 14, 7, 13, 6} // in the order of form.Zones

// blame picks the fault behind a complaint, or -1 for none, by how much of the
// order's risk it carries.
func (o *order) blame(r *rand.Rand) int {
	clean, share := o.logit, [nFaults]float64{}
	for f, e := range effects {
		if o.cutForm().faults[f] && e > 0 {
			share[f] = e
			clean -= e
		}
	}
	if clean == o.logit || chance(r, logistic(clean)/logistic(o.logit)) {
		return -1
	}
	return pick(r, share[:])
}

func pickZone(r *rand.Rand, zones []form.Zone) form.Zone {
	if len(zones) == 0 {
		zones = form.Zones
	}
	return zones[r.IntN(len(zones))]
}

func direction(r *rand.Rand, zone string) string {
	words := []string{"tight", "loose"}
	if zone == string(form.ZoneLength) || zone == string(form.ZoneToe) {
		words = []string{"short", "long"}
	}
	return words[pick(r, []float64{6, 4})]
}

// cost is what a report cost the shop, in its invented currency.
func cost(r *rand.Rand, result string, shaft float64) int {
	mean := map[string]float64{"remade": 260 + 16*shaft, "adjusted": 55, "returned": 330}[result]
	c := int(math.Round(mean * math.Exp(0.15*r.NormFloat64())))
	if chance(r, 0.2) {
		return 0
	}
	return c
}

// rebook writes the second making as an order of its own, as the invented shop
// does more often than not: it points at the order it replaces.
func (w *workshop) rebook(r *rand.Rand, o *order) {
	if !o.remade.Known() || o.remade > w.AsOf || !chance(r, 0.6) {
		return
	}
	again := *o
	again.id, again.remakeOf = o.id+"R", o.id
	again.customer.earlier = ""
	again.received = workday(o.remade + 1)
	again.channel, again.called, again.remade = "shop", cohort.NoDay, cohort.NoDay
	again.forms, again.outcomes, again.callback = nil, nil, callback{}
	f := w.form(r, &again, 1, again.received, faults{})
	again.forms = []paperForm{f}
	w.make(r, &again)
	if chance(r, 0.5) {
		again.outcomes = []outcome{{on: again.shipped + 30 + cohort.Day(r.IntN(60)), result: "kept"}}
	}
	w.writeOrder(&again)
}
