package desk

import (
	"cmp"
	"slices"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
)

// faults raises what the faults of the form ask for.
func (d *Decision) faults(ids []string, c *body.Check) {
	for _, f := range form.Faults {
		if f.Asks == form.Nothing || !slices.Contains(ids, f.ID) {
			continue
		}
		verdict := MeasureAgain
		switch f.Asks {
		case form.Answer:
			verdict = Ask
		case form.Tracing:
			d.TraceAgain = true
		case form.Girths:
			d.girths(c)
		case form.OverTrousers:
			d.overTrousers(c)
		}
		d.raise(verdict, f.Why)
	}
}

// girths takes all girths of the form again.
func (d *Decision) girths(c *body.Check) {
	for _, r := range c.Readings {
		if r.Point.Girth() {
			d.take(r.Place)
		}
	}
}

// overTrousers takes the leg girths of the ordered boot, those on the form and
// those missing, over the trousers.
func (d *Decision) overTrousers(c *body.Check) {
	legs := append([]form.Place{}, d.Missing...)
	for _, r := range c.Readings {
		legs = append(legs, r.Place)
	}
	legs = slices.DeleteFunc(legs, func(p form.Place) bool { return p.HeightMM == 0 })
	slices.SortStableFunc(legs, func(p, q form.Place) int { return cmp.Compare(p.HeightMM, q.HeightMM) })
	for _, p := range legs {
		p.Clothing = form.Tucked
		d.take(p)
	}
}
