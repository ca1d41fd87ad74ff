// Package invented makes invented workshops whose truth is known, for the tests
// of the analyses. Nothing in it comes from a real shop.
package invented

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
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
	on, off, n [faults]float64 // sums of the true risks with the fault on and off, orders at risk
	// Bare is the logit of each order's true risk without the faults that its
	// first form shows; Effects say what each of these adds.
	Bare []float64
	// Hidden is the part of it that comes from the customer alone, which no column
	// shows.
	Hidden []float64
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
		AsOf: asOf, Closure: factor(form.Closures...), Channel: factor(form.Texts(form.Channels)...),
		Sock: factor(form.Socks...), Sex: factor(form.Sexes...), Tucked: factor("no", "yes"), Orthotic: factor("no", "yes"),
		Measurer: factor("m1", "m2", "m3", "m4", "m5"), MeasurerKind: factor("home", "dealer", "shop"), Region: factor("east", "west"),
		Cause: factor("measuring", "making", "unknown"), Zone: factor(form.Texts(form.Zones)...),
		Direction: factor("tight", "loose"), Side: factor(form.ComplaintSides...),
		Cut: make(cohort.FormFaults, faults), First: make(cohort.FormFaults, faults),
	}
	var t Truth
	frailty := map[int32]float64{}
	for i := range n {
		shipped := asOf - cohort.Day(w.Idle+w.Days) + cohort.Day(i*w.Days/n)
		w.order(c, rng, frailty, shipped).put(c, rng, &t, i)
	}
	return c, t
}

// faults is how many faults the catalogue has.
const faults = 13

// An order is one of the workshop's, with what no sheet shows: how careless its
// measurer was and its true risk.
type order struct {
	shipped, remade, returned     cohort.Day
	customer                      int32
	tall, z                       float64 // inches; standardised
	lace, tucked, orthotic, woman bool
	channel, sock                 int32
	careless                      float64
	first, cut                    [faults]form.State
	called, unseen                bool
	bare, eta                     float64 // logit of the risk, without the faults and with them
	hidden                        float64 // the customer's part of both
	worst                         string  // the fault that the complaint will point to
}

func (w Workshop) order(c *cohort.Cohort, rng *rand.Rand, frailty map[int32]float64, shipped cohort.Day) *order {
	o := &order{shipped: shipped, remade: cohort.NoDay, returned: cohort.NoDay}
	o.customer = int32(rng.IntN(max(1, w.Orders*3/4)))
	if _, ok := frailty[o.customer]; !ok {
		frailty[o.customer] = 0.4 * rng.NormFloat64()
	}
	o.describe(rng)
	o.measure(rng)
	late := float64(shipped-(c.AsOf-cohort.Day(w.Idle+w.Days))) / float64(w.Days)
	w.callBack(o, rng, late)
	season := math.Sin(2 * math.Pi * float64(shipped%365) / 365)
	o.hidden = frailty[o.customer]
	o.risk(rng, w.Intercept-0.3*late+0.2*season+o.hidden)
	o.unseen = coin(rng, 0.05)
	o.outcome(rng, c.AsOf)
	return o
}

func coin(rng *rand.Rand, p float64) bool { return rng.Float64() < p }

func (o *order) describe(rng *rand.Rand) {
	o.tall = float64(8 + rng.IntN(13))
	o.z = (o.tall - 14) / 3.74
	o.lace = coin(rng, 0.6-0.1*o.z)
	o.channel = 1
	if u := rng.Float64(); u > 0.8 {
		o.channel = 3
	} else if u > 0.5 {
		o.channel = 2
	}
	o.tucked, o.orthotic, o.woman = coin(rng, stats.Logistic(-0.3+0.8*o.z)), coin(rng, 0.15), coin(rng, 0.4)
	o.sock = int32(1 + rng.IntN(3))
}

// home is 1 for orders measured at home.
func (o *order) home() float64 {
	if o.channel == 1 {
		return 1
	}
	return 0
}

// measure fills in the first form.
func (o *order) measure(rng *rand.Rand) {
	o.careless = rng.NormFloat64()
	u, home := o.careless, o.home()
	has := func(id string, p float64) bool {
		f, _ := form.FaultIndex(id)
		o.first[f] = form.Without
		if coin(rng, p) {
			o.first[f] = form.With
		}
		return o.first[f] == form.With
	}
	spared := func(id string) {
		f, _ := form.FaultIndex(id)
		o.first[f] = form.NotAtRisk
	}
	doubled := -2.2 + 0.6*u
	if has("tape-marks-missing", stats.Logistic(-2.0+0.9*u+0.5*home)) {
		doubled += 1.5
	}
	has("outline-broken", stats.Logistic(-2.2+0.7*u))
	has("outline-doubled", stats.Logistic(doubled))
	has("tape-zero-missed", stats.Logistic(-2.6+0.7*u+0.3*home))
	has("foot-girth-missing", stats.Logistic(-2.4+0.8*u))
	has("leg-height-missing", stats.Logistic(-1.9+0.8*o.z+0.7*u))
	has("self-measured", home*stats.Logistic(-0.8+0.3*u))
	spared("tucked-set-skipped")
	if o.tucked {
		has("tucked-set-skipped", stats.Logistic(-1.2+0.6*u))
	}
	spared("orthotic-undiscussed")
	if o.orthotic {
		has("orthotic-undiscussed", stats.Logistic(-0.8+0.5*u))
	}
	has("tape-zero-shown", stats.Logistic(-2.8+0.5*u))
	has("sides-copied", 0.06)
	has("value-implausible", stats.Logistic(-2.8+0.3*o.z))
}

// callBack mends faulty forms in the second half; what remains is cut from.
func (w Workshop) callBack(o *order, rng *rand.Rand, late float64) {
	o.cut = o.first
	faulty := 0
	for f := range o.first {
		if o.first[f] == form.With && form.Faults[f].Kind != form.Evident {
			faulty++
		}
	}
	if w.Only != "" {
		faulty = 0
		if f, ok := form.FaultIndex(w.Only); ok && o.first[f] == form.With {
			faulty = 4
		}
	}
	o.called = late > 0.5 && faulty > 0 && coin(rng, math.Min(0.9, 0.3+0.15*float64(faulty)))
	if !o.called || !coin(rng, 0.75) {
		return
	}
	for f := range o.cut {
		if o.cut[f] == form.With {
			o.cut[f] = form.Without
		}
	}
}

// risk sets the logit of the order's risk of a remake.
func (o *order) risk(rng *rand.Rand, base float64) {
	o.eta = base + 0.5*o.z + 0.15*o.z*o.z + 0.2*o.home()
	for _, x := range []struct {
		is bool
		b  float64
	}{{o.lace, -0.3}, {o.orthotic, 0.4}, {o.tucked, 0.2}} {
		if x.is {
			o.eta += x.b
		}
	}
	o.bare = o.eta
	weight := 0.0
	for f := range o.cut {
		if b := Effects[form.Faults[f].ID]; o.cut[f] == form.With {
			o.eta += b
			if b*rng.Float64() > weight {
				o.worst, weight = form.Faults[f].ID, b
			}
		}
	}
}

// outcome draws what was reported by the as-of day.
func (o *order) outcome(rng *rand.Rand, asOf cohort.Day) {
	if coin(rng, stats.Logistic(o.eta)) {
		delay := cohort.Day(math.Exp(4.1+0.8*rng.NormFloat64())) % 366
		if o.shipped+delay <= asOf {
			o.remade = o.shipped + delay
		}
	} else if d := cohort.Day(rng.IntN(300)); coin(rng, 0.02) && o.shipped+d <= asOf {
		o.returned = o.shipped + d
	}
}

// add adds the order's true risks with each fault on and off.
func (t *Truth) add(o *order) {
	for f, s := range o.cut {
		if s == form.NotAtRisk || s == form.Unknown {
			continue
		}
		b := Effects[form.Faults[f].ID]
		off := o.eta
		if s == form.With {
			off -= b
		}
		t.on[f] += stats.Logistic(off + b)
		t.off[f] += stats.Logistic(off)
		t.n[f]++
	}
}

// put writes the order into the cohort as row i.
func (o *order) put(c *cohort.Cohort, rng *rand.Rand, t *Truth, i int) {
	t.add(o)
	if o.unseen { // nobody looked for tape marks
		if o.first[0] == form.With {
			o.bare += Effects[form.Faults[0].ID]
		}
		o.first[0], o.cut[0] = form.Unknown, form.Unknown
	}
	t.Bare, t.Hidden = append(t.Bare, o.bare), append(t.Hidden, o.hidden)
	c.OrderID = append(c.OrderID, fmt.Sprintf("o%06d", i))
	c.Customer = append(c.Customer, o.customer)
	c.Received, c.Shipped = append(c.Received, o.shipped-40), append(c.Shipped, o.shipped)
	c.ShaftMM = append(c.ShaftMM, o.tall*25.4)
	for f := range o.first {
		c.First[f], c.Cut[f] = append(c.First[f], o.first[f]), append(c.Cut[f], o.cut[f])
	}
	no := int16(1)
	if o.called && o.first != o.cut {
		no = 2
	}
	c.CutNo, c.CalledBack = append(c.CutNo, no), append(c.CalledBack, o.called)
	c.Remade, c.Returned, c.Adjusted = append(c.Remade, o.remade), append(c.Returned, o.returned), append(c.Adjusted, cohort.NoDay)
	c.Cost = append(c.Cost, math.NaN())
	o.putWords(c, rng)
	c.Answered = append(c.Answered, o.remade.Known() || coin(rng, 0.5))
}

func (o *order) putWords(c *cohort.Cohort, rng *rand.Rand) {
	put := func(f *cohort.Factor, code int32) { f.Code = append(f.Code, code) }
	yes := func(b bool) int32 {
		if b {
			return 2
		}
		return 1
	}
	put(&c.Closure, yes(o.lace))
	put(&c.Channel, o.channel)
	put(&c.Sock, o.sock)
	put(&c.Sex, yes(!o.woman))
	put(&c.Tucked, yes(o.tucked))
	put(&c.Orthotic, yes(o.orthotic))
	put(&c.Measurer, int32(rng.IntN(6)))
	put(&c.MeasurerKind, o.channel)
	put(&c.Region, int32(1+rng.IntN(2)))
	zone, cause := int32(0), int32(0)
	if o.remade.Known() {
		zone, cause = int32(1+rng.IntN(8)), int32(1+rng.IntN(3))
		if f, ok := form.FaultIndex(o.worst); ok && len(form.Faults[f].Zones) > 0 && coin(rng, 0.8) {
			zs := form.Faults[f].Zones
			zone = int32(slices.Index(c.Zone.Levels, string(zs[rng.IntN(len(zs))])))
		}
	}
	put(&c.Zone, zone)
	put(&c.Cause, cause)
	put(&c.Direction, int32(rng.IntN(3)))
	put(&c.Side, int32(rng.IntN(4)))
}
