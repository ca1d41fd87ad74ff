package desk

import (
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
	"lastroom/analysis/risk"
)

// A Threshold says which doubts hold a form. Some things hold it whatever a
// call-back costs, since leather can't be cut from such a form, or should not be: a
// number that the ordered boot needs is missing, the numbers make no human foot and
// leg, something has to be asked for the wearer's sake, or the shop has a rule in
// force. What else is wrong with a form is a doubt, and holds it where the call-back
// is worth making.
type Threshold struct {
	// Given reports whether doubts are weighed; where they are not each of them holds.
	Given bool
	// Least is how many remakes a call-back about the form has to avoid on average.
	Least float64
	Call  float64 // what a call-back costs with the days it takes; NaN: not known
	// From says in words where the threshold comes from, or why there is none.
	From string
}

// EveryDoubt is no threshold, and why not.
func EveryDoubt(why string) Threshold {
	return Threshold{From: "every doubt holds a form, since " + why}
}

// ByCosts is where a call-back saves what it costs.
func ByCosts(p risk.Price) Threshold {
	switch {
	case p.Why != "":
		return EveryDoubt(p.Why)
	case !(p.Remake > 0):
		return EveryDoubt("a remake costs nothing here")
	}
	least := p.Call / p.Remake
	return Threshold{Given: true, Least: least, Call: p.Call,
		From: fmt.Sprintf("a call-back costs %s and a remake %s, so it pays where it can be expected to avoid %s remakes in 100", money(p.Call), money(p.Remake), points(least))}
}

func money(x float64) string  { return fmt.Sprintf("%.4g", x) }
func points(x float64) string { return fmt.Sprintf("%.1f", 100*x) }

// BySharing is the lowest threshold, from costs on, at which at most a share of forms
// is held. firm says of past first forms whether they are held whatever it costs,
// avoids how many remakes a call-back about each can be expected to avoid.
func (t Threshold) BySharing(share float64, firm []bool, avoids []float64) Threshold {
	n, held := len(firm), 0
	var doubtful []float64
	for i, f := range firm {
		if f {
			held++
		} else {
			doubtful = append(doubtful, avoids[i])
		}
	}
	if n == 0 {
		return t
	}
	room := int(share*float64(n)) - held
	out := Threshold{Given: true, Call: t.Call}
	most := fmt.Sprintf("at most %.3g %% of first forms may be held", 100*share)
	slices.Sort(doubtful)
	switch {
	case room <= 0:
		// Above all there are; a form that nobody has seen yet may pass it.
		out.Least = 1
		out.From = fmt.Sprintf("%s, and %.3g %% are held in any case: no doubt holds one", most, 100*float64(held)/float64(n))
		return out
	case room < len(doubtful):
		// Above the form that is one too many, and above nothing at all.
		out.Least = max(doubtful[len(doubtful)-1-room], 1e-6) * (1 + 1e-9)
	}
	if t.Given && t.Least >= out.Least {
		t.From += "; " + most + ", which leaves room for all of these"
		return t
	}
	out.From = fmt.Sprintf("%s: a call-back has to avoid %s remakes in 100", most, points(out.Least))
	return out
}

// forTheWearer are faults that are asked about whatever it costs: boots over an
// orthotic that nobody talked over can hurt.
var forTheWearer = []string{"orthotic-undiscussed"}

// Weigh takes the remake risk in and settles which doubts hold the form. Where it is
// held anyway all of them are asked about: the call is made once.
func (d *Decision) Weigh(r risk.OrderRisk, t Threshold, c *body.Check) {
	d.Risk, d.ByFault, d.Threshold = &r, r.ByFault, t
	worth := r.Avoids.Given() && r.Avoids.Point >= t.Least
	switch {
	case !t.Given:
	case !d.firm && !worth && d.Held():
		d.Verdict, d.LetThrough, d.Reasons = Cut, d.Reasons, []string{}
		d.TakeAgain, d.TraceAgain = []form.Place{}, false
	case worth && !d.Held():
		d.shown(c)
	}
}

// Weighed says in words what a call-back about the form is held to: why its doubts
// hold it, or why they do not; "" where it is held in any case, or nothing is in doubt.
func (d Decision) Weighed() string {
	switch {
	case d.firm || len(d.LetThrough) == 0 && !d.Held() || d.Threshold.From == "":
		return ""
	case d.Held() && d.Threshold.Given:
		return "the call-back is worth it: it can be expected to avoid " + points(d.Risk.Avoids.Point) + " remakes in 100 such orders; " + d.Threshold.From
	case d.Held():
		return d.Threshold.From
	case !d.Risk.Avoids.Given():
		return "let through: " + strings.Join(d.Risk.Avoids.Warnings, "; ") + " by a call-back that lowers the remake risk"
	case !(d.Risk.Avoids.Point > 0):
		return "let through, since by the orders so far a call-back about it avoids no remake"
	}
	return "let through, since a call-back about it can be expected to avoid " + points(d.Risk.Avoids.Point) + " remakes in 100 such orders; " + d.Threshold.From
}

// shown asks for the girths again where the numbers alone show what makes a call-back
// worth it, though no single one of them is in doubt.
func (d *Decision) shown(c *body.Check) {
	why := "how odd the numbers are together makes a call-back worth it: all girths have to be taken again"
	for _, f := range form.Faults {
		if f.Kind == form.Evident && slices.Contains(d.Faults, f.ID) {
			why = f.Has + ", which makes a call-back worth it: all girths have to be taken again"
			break
		}
	}
	d.girths(c)
	d.raise(MeasureAgain, why)
}
