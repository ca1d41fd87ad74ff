package demo

import (
	"fmt"
	"math/rand/v2"

	"lastroom/analysis/cohort"
)

// A measurer is whoever held the tape.
type measurer struct {
	id       string
	channel  int // index into channels
	careless float64
	sd       float64 // of one reading of a girth, mm (judgement)
	unit     string  // how they write; "": as it comes
	trained  cohort.Day
	region   string

	// Habits, which the pages about measurers are to find (judgement): the tape pulled
	// tighter and lying higher up the leg by so many mm, and the share of inches rounded to whole ones.
	tight, higher, rounds float64
}

const (
	home = iota
	dealer
	shop
)

// staff are the measurers the shop knows by name: dealers and its own fitters.
type staff struct{ dealers, fitters []measurer }

var regions = []string{"coast", "hills", "plain", "town"}

func newStaff(o Options) *staff {
	s := &staff{}
	for k := range 14 + o.Orders/20000 {
		r := random(o.Seed, streamStaff, k)
		m := measurer{
			id: fmt.Sprintf("D%02d", k+1), channel: dealer, careless: 0.6 * r.NormFloat64(), sd: 2.8 + r.Float64(),
			trained: cohort.NoDay, region: regions[k%len(regions)],
		}
		if on := firstDay + 120 + cohort.Day(r.IntN(700)); chance(r, 0.5) {
			m.trained = workday(on)
		}
		if chance(r, 0.3) {
			m.unit = "cm"
		}
		switch k {
		case 1:
			m.tight = 6
		case 2:
			m.rounds, m.unit = 0.5, "in"
		case 4:
			m.higher = 14
		}
		s.dealers = append(s.dealers, m)
	}
	for k := range 3 {
		s.fitters = append(s.fitters, measurer{
			id: fmt.Sprintf("F%d", k+1), channel: shop, careless: -0.2 * float64(k), sd: 2, unit: "mm",
			trained: firstDay - 400 + cohort.Day(90*k), region: "town",
		})
	}
	return s
}

// measurer is who measures for an order: a helper of the customer's own at
// home, else a dealer or fitter.
func (s *staff) measurer(r *rand.Rand, o *order) measurer {
	i := r.IntN(1 << 20)
	switch o.channel {
	case "dealer":
		return s.dealers[i%len(s.dealers)]
	case "shop":
		return s.fitters[i%len(s.fitters)]
	}
	return measurer{id: "H" + o.customerID()[1:], channel: home, sd: 4, trained: cohort.NoDay}
}

func (s *staff) write(sh *sheets) {
	for _, m := range append(append([]measurer{}, s.dealers...), s.fitters...) {
		sh.measurers.row(m.id, channels[m.channel], m.trained.String(), m.region)
	}
}
