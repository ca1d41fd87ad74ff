package body

import (
	_ "embed"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"sync"
)

// How many good forms set the tail of a layout that the shipped table does not
// hold: of a rare set of numbers, of a shop's own calibration.
const (
	drawsLazily = 4000
	drawsOwn    = 12000
)

// setTails fills in the tails of a layout's scores: from the shipped table, or
// by simulation with a seed that depends only on the specification.
func (m *Model) setTails(s layoutSpec, lay *layout) {
	if lay.nCore == 0 {
		return
	}
	spec := s
	spec.codes = s.codes[:lay.nCore]
	if !m.own[s.channel] {
		if row, ok := shippedTails()[tailKeyOf(spec)]; ok {
			lay.tail, lay.spread = row[0], row[1]
			return
		}
	}
	draws := drawsLazily
	if m.own[s.channel] {
		draws = drawsOwn
	}
	lay.tail, lay.spread = m.simulateTails(spec, lay, draws)
}

// A tailKey names a row of the shipped table: forms with the same measures
// (bits of features) on one side or both.
type tailKey struct {
	channel Channel
	sex     Sex
	step    int
	sides   int
	mask    int
}

// tailKeyOf gives the key of a specification of core numbers; sides is 0 where
// the sides have different measures, which no row has.
func tailKeyOf(s layoutSpec) tailKey {
	var mask [2]int
	for _, c := range s.codes {
		mask[c/features] |= 1 << (c % features)
	}
	k := tailKey{channel: s.channel, sex: s.sex, step: s.step, sides: 2, mask: mask[Right]}
	switch {
	case mask[Left] == mask[Right]:
	case mask[Left] == 0:
		k.sides = 1
	case mask[Right] == 0:
		k.sides, k.mask = 1, mask[Left]
	default:
		k.sides = 0
	}
	return k
}

//go:embed tables/tails.csv
var tailsCSV string

// shippedTails is the table by key: tail of the alarm score, tail of the range
// score.
var shippedTails = sync.OnceValue(func() map[tailKey][2]tail {
	out := map[tailKey][2]tail{}
	for line := range strings.Lines(tailsCSV) {
		f := strings.Split(strings.TrimSpace(line), ",")
		if len(f) != 5+2*len(tailShares) || strings.HasPrefix(line, "#") || f[0] == "channel" {
			continue
		}
		var head [5]int
		for i := range head {
			head[i], _ = strconv.Atoi(f[i])
		}
		var row [2]tail
		for i := range tailShares {
			row[0].at[i], _ = strconv.ParseFloat(f[5+i], 64)
			row[1].at[i], _ = strconv.ParseFloat(f[5+len(tailShares)+i], 64)
		}
		out[tailKey{Channel(head[0]), Sex(head[1]), head[2], head[3], head[4]}] = row
	}
	return out
})

// simulateTails draws good forms of the specification's core numbers and
// scores them; a form of unknown sex is a man's or a woman's in turn.
func (m *Model) simulateTails(s layoutSpec, lay *layout, draws int) (score, spread tail) {
	r := rand.New(rand.NewPCG(seedOf(s), 20120719))
	var ds []*drawer
	for _, sex := range lay.sexes {
		d, err := newDrawer(newWorld(sex, m.measuring[s.channel], lay.step))
		if err != nil {
			return score, spread
		}
		ds = append(ds, d)
	}
	var sc scratch
	sc.grow(lay.nCore, len(lay.coreHyps))
	units := make([]Unit, lay.nCore)
	if lay.step == steps[1] || lay.step == steps[3] || lay.step == steps[5] {
		for i := range units {
			units[i] = Inch
		}
	}
	scores, spreads := make([]float64, draws), make([]float64, draws)
	for k := range draws {
		d := ds[k%len(ds)]
		y := d.w.m.measure(r, d.w.m.sides(r, d.person(r)), lay.step)
		for i, c := range lay.coords[:lay.nCore] {
			sc.y[i] = d.w.widened(y[c.core], c.core)
		}
		ex := sc.prepare(lay.girths, units)
		scores[k] = lay.coreScore(&sc, ex)
		spreads[k] = lay.rangeScore(sc.l)
	}
	return tailOf(scores), tailOf(spreads)
}

// widened moves a number away from the middle by the shop's own spread factor.
func (w *world) widened(y float64, i int) float64 {
	if w.m.Inflate == 1 {
		return y
	}
	mean := w.core.mean[i]
	return rounded(math.Exp(mean+math.Sqrt(w.m.Inflate)*(math.Log(y)-mean)), w.step)
}

func seedOf(s layoutSpec) uint64 {
	h := fnv.New64a()
	h.Write(s.key(nil))
	return h.Sum64()
}
