// Package invented makes invented workshops whose truth is known, for the tests
// of the analyses. Nothing in it comes from a real shop.
package invented

import (
	"fmt"
	"math"
	"math/rand/v2"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

// A Workshop is an invented one whose truth is known. Tall boots have more missing heights and are harder to fit;
// faults travel together through the carelessness of who measured; one fault is
// inert but travels with a real cause; from half-way on faulty forms are called
// back and many are mended; outcomes come months late; customers who order
// twice have something in common that no column shows.
type Workshop struct {
	Orders    int
	Intercept float64 // of the risk of a remake, on the logit scale
	Days      int     // over which the orders are shipped; 0 means 1080
	Idle      int     // days between the last shipping and the as-of day
	Seed      uint64
	// Only, if set, makes the call-backs that start half-way be on forms with
	// this
	// fault only (a name that is no fault: on none).
	Only string
}

// Effects are the true log odds ratios of remake; what is not named is inert.
var Effects = map[string]float64{
	"tape-marks-missing":   0.7,
	"outline-broken":       0.5,
	"outline-doubled":      0, // inert, travels with the tape marks
	"tape-zero-missed":     0.9,
	"foot-girth-missing":   0.6,
	"leg-height-missing":   0.6,
	"tucked-set-skipped":   0.8,
	"self-measured":        0.3,
	"orthotic-undiscussed": 0.6,
}

// Inert is the fault that does nothing but travels with one that does.
const Inert = "outline-doubled"

// A Truth sums the true risks of the orders at risk of each fault.
type Truth struct {
	on, off, n [13]float64 // sums of the true risks with the fault on and off, orders at risk
}

// Difference is the true standardised risk difference of fault f.
func (t Truth) Difference(f int) float64 { return (t.on[f] - t.off[f]) / t.n[f] }

func factor(levels ...string) cohort.Factor {
	return cohort.Factor{Levels: append([]string{""}, levels...)}
}

// Make is the cohort of the workshop, and its truth over the orders at risk.
func (w Workshop) Make() (*cohort.Cohort, Truth) {
	rng := stats.Source(w.Seed, 0)
	if w.Days == 0 {
		w.Days = 1080
	}
	n := w.Orders
	asOf := cohort.Day(20000)
	c := &cohort.Cohort{
		AsOf: asOf, Closure: factor("pull-on", "lace-up"), Channel: factor("home", "dealer", "shop"),
		Sock: factor("thin", "medium", "thick"), Sex: factor("f", "m"), Tucked: factor("no", "yes"), Orthotic: factor("no", "yes"),
		Measurer: factor("m1", "m2", "m3", "m4", "m5"), Region: factor("east", "west"),
		Cause: factor("measuring", "making", "unknown"), Zone: factor("toe", "ball", "instep", "heel", "ankle", "calf", "top", "length"),
		Direction: factor("tight", "loose"), Side: factor("left", "right", "both"),
		Cut: make(cohort.FormFaults, 13), First: make(cohort.FormFaults, 13),
	}
	var t Truth
	frailty := map[int32]float64{}
	for i := range n {
		shipped := asOf - cohort.Day(w.Idle+w.Days) + cohort.Day(i*w.Days/n)
		w.order(c, rng, &t, frailty, shipped, i)
	}
	return c, t
}

func (w Workshop) order(c *cohort.Cohort, rng *rand.Rand, t *Truth, frailty map[int32]float64, shipped cohort.Day, i int) {
	coin := func(p float64) bool { return rng.Float64() < p }
	customer := int32(rng.IntN(max(1, w.Orders*3/4)))
	if _, ok := frailty[customer]; !ok {
		frailty[customer] = 0.4 * rng.NormFloat64()
	}
	tall := float64(8 + rng.IntN(13)) // inches
	z := (tall - 14) / 3.74
	lace := coin(0.6 - 0.2*z/2)
	channel := 1
	if u := rng.Float64(); u > 0.5 {
		channel = 2
		if u > 0.8 {
			channel = 3
		}
	}
	tucked, orthotic, woman := coin(stats.Logistic(-0.3+0.8*z)), coin(0.15), coin(0.4)
	sock := 1 + rng.IntN(3)
	careless := rng.NormFloat64()
	late := float64(shipped-(c.AsOf-cohort.Day(w.Idle+w.Days))) / float64(w.Days)
	season := math.Sin(2 * math.Pi * float64(shipped%365) / 365)

	var first, cut [13]cohort.State
	has := func(id string, p float64) {
		f, _ := cohort.FaultIndex(id)
		first[f] = cohort.Without
		if coin(p) {
			first[f] = cohort.With
		}
	}
	home := 0.0
	if channel == 1 {
		home = 1
	}
	has("tape-marks-missing", stats.Logistic(-2.0+0.9*careless+0.5*home))
	marks, _ := cohort.FaultIndex("tape-marks-missing")
	doubled := -2.2 + 0.6*careless
	if first[marks] == cohort.With {
		doubled += 1.5
	}
	has("outline-broken", stats.Logistic(-2.2+0.7*careless))
	has("outline-doubled", stats.Logistic(doubled))
	has("tape-zero-missed", stats.Logistic(-2.6+0.7*careless+0.3*home))
	has("foot-girth-missing", stats.Logistic(-2.4+0.8*careless))
	has("leg-height-missing", stats.Logistic(-1.9+0.8*z+0.7*careless))
	has("self-measured", home*stats.Logistic(-0.8+0.3*careless))
	skipped, _ := cohort.FaultIndex("tucked-set-skipped")
	first[skipped] = cohort.NotAtRisk
	if tucked {
		has("tucked-set-skipped", stats.Logistic(-1.2+0.6*careless))
	}
	talked, _ := cohort.FaultIndex("orthotic-undiscussed")
	first[talked] = cohort.NotAtRisk
	if orthotic {
		has("orthotic-undiscussed", stats.Logistic(-0.8+0.5*careless))
	}
	has("tape-zero-shown", stats.Logistic(-2.8+0.5*careless))
	has("sides-copied", 0.06)
	has("value-implausible", stats.Logistic(-2.8+0.3*z))

	faulty := 0
	for f := range first {
		if first[f] == cohort.With && cohort.Faults[f].Kind != cohort.Evident {
			faulty++
		}
	}
	cut = first
	if w.Only != "" {
		faulty = 0
		if f, ok := cohort.FaultIndex(w.Only); ok && first[f] == cohort.With {
			faulty = 4
		}
	}
	called := late > 0.5 && faulty > 0 && coin(math.Min(0.9, 0.3+0.15*float64(faulty)))
	if called && coin(0.75) {
		for f := range cut {
			if cut[f] == cohort.With {
				cut[f] = cohort.Without
			}
		}
	}
	eta := w.Intercept + 0.5*z + 0.15*z*z - 0.3*late + 0.2*season + frailty[customer]
	if lace {
		eta -= 0.3
	}
	if orthotic {
		eta += 0.4
	}
	if tucked {
		eta += 0.2
	}
	eta += 0.2 * home
	worst, weight := "", 0.0
	for f := range cut {
		if b := Effects[cohort.Faults[f].ID]; cut[f] == cohort.With {
			eta += b
			if b*rng.Float64() > weight {
				worst, weight = cohort.Faults[f].ID, b
			}
		}
	}
	for f := range cut {
		if cut[f] == cohort.NotAtRisk || cut[f] == cohort.Unknown {
			continue
		}
		b := Effects[cohort.Faults[f].ID]
		off := eta
		if cut[f] == cohort.With {
			off -= b
		}
		t.on[f] += stats.Logistic(off + b)
		t.off[f] += stats.Logistic(off)
		t.n[f]++
	}
	if coin(0.05) { // nobody looked
		first[marks], cut[marks] = cohort.Unknown, cohort.Unknown
	}

	remade, returned := cohort.NoDay, cohort.NoDay
	if coin(stats.Logistic(eta)) {
		delay := cohort.Day(math.Exp(4.1+0.8*rng.NormFloat64())) % 366
		if shipped+delay <= c.AsOf {
			remade = shipped + delay
		}
	} else if d := cohort.Day(rng.IntN(300)); coin(0.02) && shipped+d <= c.AsOf {
		returned = shipped + d
	}
	w.put(c, rng, i, shipped, customer, tall, first, cut, called, remade, returned, worst)
	code := func(b bool) int32 {
		if b {
			return 2
		}
		return 1
	}
	c.Closure.Code, c.Channel.Code = append(c.Closure.Code, code(lace)), append(c.Channel.Code, int32(channel))
	c.Sock.Code, c.Sex.Code = append(c.Sock.Code, int32(sock)), append(c.Sex.Code, code(!woman))
	c.Tucked.Code, c.Orthotic.Code = append(c.Tucked.Code, code(tucked)), append(c.Orthotic.Code, code(orthotic))
}

func (w Workshop) put(c *cohort.Cohort, rng *rand.Rand, i int, shipped cohort.Day, customer int32, tall float64, first, cut [13]cohort.State, called bool, remade, returned cohort.Day, worst string) {
	c.OrderID = append(c.OrderID, fmt.Sprintf("o%06d", i))
	c.Customer = append(c.Customer, customer)
	c.Received, c.Shipped = append(c.Received, shipped-40), append(c.Shipped, shipped)
	c.ShaftMM = append(c.ShaftMM, tall*25.4)
	c.Measurer.Code, c.Region.Code = append(c.Measurer.Code, int32(rng.IntN(6))), append(c.Region.Code, int32(1+rng.IntN(2)))
	for f := range first {
		c.First[f], c.Cut[f] = append(c.First[f], first[f]), append(c.Cut[f], cut[f])
	}
	no := int16(1)
	if called && first != cut {
		no = 2
	}
	c.CutNo, c.CalledBack = append(c.CutNo, no), append(c.CalledBack, called)
	c.Remade, c.Returned, c.Adjusted = append(c.Remade, remade), append(c.Returned, returned), append(c.Adjusted, cohort.NoDay)
	zone, cause := int32(0), int32(0)
	if remade.Known() {
		zone, cause = int32(1+rng.IntN(8)), int32(1+rng.IntN(3))
		if f, ok := cohort.FaultIndex(worst); ok && len(cohort.Faults[f].Zones) > 0 && rng.Float64() < 0.8 {
			zs := cohort.Faults[f].Zones
			z := zs[rng.IntN(len(zs))]
			for k, l := range c.Zone.Levels {
				if l == string(z) {
					zone = int32(k)
				}
			}
		}
	}
	c.Zone.Code, c.Cause.Code = append(c.Zone.Code, zone), append(c.Cause.Code, cause)
	c.Direction.Code, c.Side.Code = append(c.Direction.Code, int32(rng.IntN(3))), append(c.Side.Code, int32(rng.IntN(4)))
	c.Cost = append(c.Cost, math.NaN())
	c.Answered = append(c.Answered, remade.Known() || rng.Float64() < 0.5)
}
