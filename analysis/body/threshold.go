package body

import (
	_ "embed"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
	"strings"
	"sync"

	"gonum.org/v1/gonum/stat"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// drawsLazily is how many good forms set the tail of a layout that the shipped
// table has nothing near.
const drawsLazily = 4000

// setTails fills in the tails of a layout's scores: from the shipped table
// where it has the set of numbers or near ones, otherwise by simulation with a
// seed that depends only on the specification. The tails hardly depend on the
// measuring error, so one row serves all channels and a shop's own model; tests
// hold it to that.
func (m *Model) setTails(s layoutSpec, lay *layout) {
	if lay.nCore == 0 {
		return
	}
	spec := s
	spec.codes = s.codes[:lay.nCore]
	if row, ok := nearTails(spec); ok {
		lay.tail, lay.spread = row[0], row[1]
		return
	}
	row := m.drawnTails(spec, lay)
	lay.tail, lay.spread = row[0], row[1]
}

// drawnTails simulates the tails of core numbers once, however many sets of leg
// girths they come with.
func (m *Model) drawnTails(spec layoutSpec, lay *layout) [2]tail {
	key := string(spec.key(nil))
	m.mu.RLock()
	row, ok := m.drawn[key]
	m.mu.RUnlock()
	if ok {
		return row
	}
	row[0], row[1] = m.simulateTails(spec, lay, drawsLazily)
	m.mu.Lock()
	defer m.mu.Unlock()
	m.drawn[key] = row
	return row
}

// nearTails is the row of the shipped table for a specification, or the middle
// of the rows for the measures on both feet and on either. Forms read to 5 mm
// take the rows of 1/4 in.
func nearTails(s layoutSpec) (row [2]tail, ok bool) {
	if s.step == 2 {
		s.step = 3
	}
	key, either := tailKeyOf(s)
	row, ok = shippedTails()[key]
	if !ok || either == key.mask {
		return row, ok
	}
	key.mask = either
	other, ok := shippedTails()[key]
	for k := range row {
		for i := range row[k].at {
			row[k].at[i] = (row[k].at[i] + other[k].at[i]) / 2
		}
	}
	return row, ok
}

// A tailKey names a row of the shipped table: forms with the same measures
// (bits of features) on one side or both.
type tailKey struct {
	sex   form.Sex
	step  int
	sides int
	mask  int
}

// tailKeyOf gives the key of a specification of core numbers, with the
// measures that stand on both feet (on the one foot there is), and the measures
// that stand on either.
func tailKeyOf(s layoutSpec) (k tailKey, either int) {
	var mask [2]int
	for _, c := range s.codes {
		mask[c/human.FeatureCount] |= 1 << (c % human.FeatureCount)
	}
	k = tailKey{sex: s.sex, step: s.step, sides: 2, mask: mask[form.Left] & mask[form.Right]}
	either = mask[form.Left] | mask[form.Right]
	if mask[form.Left] == 0 || mask[form.Right] == 0 {
		k.sides, k.mask = 1, either
	}
	return k, either
}

//go:embed tables/tails.csv
var tailsCSV string

// shippedTails is the table by key: tail of the alarm score, tail of the range
// score.
var shippedTails = sync.OnceValue(func() map[tailKey][2]tail {
	out := map[tailKey][2]tail{}
	for line := range strings.Lines(tailsCSV) {
		f := strings.Split(strings.TrimSpace(line), ",")
		if len(f) != 4+2*len(tailShares) || strings.HasPrefix(line, "#") || f[0] == "sex" {
			continue
		}
		var head [4]int
		for i := range head {
			head[i], _ = strconv.Atoi(f[i])
		}
		var row [2]tail
		for i := range tailShares {
			row[0].at[i], _ = strconv.ParseFloat(f[4+i], 64)
			row[1].at[i], _ = strconv.ParseFloat(f[4+len(tailShares)+i], 64)
		}
		out[tailKey{form.Sex(head[0]), head[1], head[2], head[3]}] = row
	}
	return out
})

// simulateTails draws good forms of the specification's core numbers and
// scores them; a form of unknown sex is a man's or a woman's in turn.
func (m *Model) simulateTails(s layoutSpec, lay *layout, draws int) (score, spread tail) {
	r := rand.New(rand.NewPCG(seedOf(s), 20120719))
	var ds []*human.Drawer
	for _, sex := range lay.sexes {
		d, err := human.NewDrawer(m.world(sex, s.channel, s.step))
		if err != nil {
			return score, spread
		}
		ds = append(ds, d)
	}
	var sc scratch
	sc.grow(lay.nCore, len(lay.coreHyps.list))
	units := make([]form.Unit, lay.nCore)
	if lay.step == steps[1] || lay.step == steps[3] || lay.step == steps[5] {
		for i := range units {
			units[i] = form.Inch
		}
	}
	scores, spreads := make([]float64, draws), make([]float64, draws)
	for k := range draws {
		d := ds[k%len(ds)]
		y := d.World.Measuring.Measure(r, d.World.Measuring.Sides(r, d.Person(r)), lay.step)
		for i, c := range lay.coords[:lay.nCore] {
			sc.y[i] = widened(d.World, y[c.Core], c.Core)
		}
		ex := sc.prepare(lay.girths, units)
		scores[k] = lay.coreScore(&sc, lay.core, &lay.coreHyps, ex, math.Inf(-1))
		spreads[k] = lay.rangeScore(sc.l)
	}
	return tailOf(scores), tailOf(spreads)
}

// widened moves a number away from the middle by the shop's own spread factor.
func widened(w *human.World, y float64, i int) float64 {
	if w.Measuring.Inflate == 1 {
		return y
	}
	mean := w.Core.Mean[i]
	return math.Round(math.Exp(mean+math.Sqrt(w.Measuring.Inflate)*(math.Log(y)-mean))/w.Step) * w.Step
}

func seedOf(s layoutSpec) uint64 {
	h := fnv.New64a()
	h.Write(s.key(nil))
	return h.Sum64()
}

// tailShares are the shares of good forms at which a score's distribution is kept.
var tailShares = [...]float64{0.5, 0.2, 0.05, 0.01, 0.002}

// tailOdds are minus their base-10 logarithms.
var tailOdds = func() (odds [len(tailShares)]float64) {
	for i, share := range tailShares {
		odds[i] = -math.Log10(share)
	}
	return odds
}()

// zero is the largest score at which odd is 0.
func (t *tail) zero() float64 {
	width := math.Max(t.at[1]-t.at[0], 1e-9)
	return t.at[0] - tailOdds[0]*width/(tailOdds[1]-tailOdds[0])
}

// A tail is the upper tail of a score among good forms: at[i] is the score that
// a share tailShares[i] of them reaches.
type tail struct{ at [len(tailShares)]float64 }

// tailOf takes the quantiles (type 7) of simulated scores.
func tailOf(scores []float64) (t tail) {
	sort.Float64s(scores)
	for i, share := range tailShares {
		t.at[i] = stat.Quantile(1-share, stat.LinInterp, scores, nil)
	}
	return t
}

// odd is minus the base-10 logarithm of the share of good forms that reach
// score s, by straight lines through the kept points, extended at both ends.
func (t *tail) odd(s float64) float64 {
	last := len(tailShares) - 1
	k := 1
	for k < last && s > t.at[k] {
		k++
	}
	width := math.Max(t.at[k]-t.at[k-1], 1e-9)
	return math.Max(0, tailOdds[k-1]+(tailOdds[k]-tailOdds[k-1])*(s-t.at[k-1])/width)
}
