package sensitivity

import (
	"context"
	"math"
	"slices"
	"strconv"

	"lastroom/analysis/stats"
)

// A Turn says at which factor a conclusion turns.
type Turn struct {
	Said   string      `json:"said"` // the conclusion as counted; "" where there is none
	Turns  bool        `json:"turns"`
	Factor stats.Value `json:"factor"` // null: no factor up to MostFactor turns it
	To     string      `json:"turns_to"`
}

// A ChannelTurn is a Turn with the factor in one channel only.
type ChannelTurn struct {
	Channel string `json:"channel"`
	Turn
}

// conclusions are the words for an interval below, around and above 0. The
// interval decides, and nothing else.
type conclusions [3]string

var (
	ofFault = conclusions{"goes with fewer remakes", "no clear link", "goes with more remakes"}
	ofRule  = conclusions{"may bring more remakes", "may as well avoid nothing", "avoids remakes"}
	ofNet   = conclusions{"costs more than it saves", "not clear whether it pays", "pays"}
)

const below, around, above = 0, 1, 2

// sideOf an estimate; -1 where it is not given.
func sideOf(e stats.Estimate) int {
	switch {
	case !e.Given() || !e.Bounded():
		return -1
	case e.Low > 0:
		return above
	case e.High < 0:
		return below
	}
	return around
}

// steps are the factors at which a turn is looked for first.
var steps = []float64{0, 0.1, 0.25, 0.5, 0.75, 1, 1.5, 2, 3, 5, MostFactor}

// A course is the findings along the factors, for the silent of one channel or
// of all.
type course struct {
	channel int
	at      []float64
	told    map[float64]telling
	anew    func(factor float64) telling
}

// newCourse is along the steps and further factors.
func newCourse(t *teller, channel int, further []float64) *course {
	at := append(slices.Clone(t.o.steps), further...)
	slices.Sort(at)
	return &course{channel, slices.Compact(at), map[float64]telling{}, func(f float64) telling { return t.tell(channel, f, 1) }}
}

// along is a figure at each of the factors.
func (c *course) along(factors []float64, of func(telling) stats.Estimate) (out []AtFactor) {
	for _, f := range factors {
		out = append(out, AtFactor{f, of(c.told[f])})
	}
	return out
}

// tellAll tells all courses, which are as counted alike; false where the context
// ended it.
func tellAll(ctx context.Context, courses []*course, o Options) bool {
	type one struct {
		c      *course
		factor float64
		told   telling
	}
	var all []one
	for k, c := range courses {
		for _, f := range c.at {
			if k == 0 || f > 0 {
				all = append(all, one{c: c, factor: f})
			}
		}
	}
	done := counter{total: len(all), tell: o.Progress}
	tell := func(k int) {
		if ctx.Err() == nil {
			all[k].told = all[k].c.anew(all[k].factor)
			done.one()
		}
	}
	tell(0) // as counted
	stats.Parallel(o.Workers, len(all)-1, func(k int) { tell(k + 1) })
	for _, x := range all {
		x.c.told[x.factor] = x.told
	}
	for _, c := range courses[1:] {
		c.told[0] = courses[0].told[0]
	}
	return ctx.Err() == nil
}

// closeEnough is the part of itself to which a factor is found.
const closeEnough = 0.02

// turn finds the first factor at which the conclusion is another than as counted:
// between two steps by the secant of the limit that crosses 0; exactly, within
// closeEnough, by telling anew there, otherwise straight between them.
func (c *course) turn(judged func(telling) stats.Estimate, words conclusions, exactly bool) Turn {
	first := judged(c.told[0])
	from := sideOf(first)
	if from < 0 {
		return Turn{Factor: nan}
	}
	t := Turn{Said: words[from], Factor: nan}
	for k := 1; k < len(c.at); k++ {
		to := sideOf(judged(c.told[c.at[k]]))
		if to < 0 || to == from {
			continue
		}
		limit := func(e stats.Estimate) float64 {
			if from == above || from == around && to == above {
				return e.Low
			}
			return e.High
		}
		t.Turns, t.To = true, words[to]
		t.Factor = stats.Value(c.between(c.at[k-1], c.at[k], func(x telling) float64 { return limit(judged(x)) }, exactly))
		return t
	}
	return t
}

// between is the factor from lo to hi at which a limit crosses 0.
func (c *course) between(lo, hi float64, limit func(telling) float64, exactly bool) float64 {
	yl, yh := limit(c.told[lo]), limit(c.told[hi])
	x, moved := lo, 0.0
	for range 8 {
		before := x
		x = lo + (hi-lo)*yl/(yl-yh)
		if math.IsNaN(x) || !exactly || math.Abs(x-before) <= closeEnough*x {
			break
		}
		if _, ok := c.told[x]; !ok {
			c.told[x] = c.anew(x)
		}
		// An end that stays a second time counts half, so that it moves (the
		// Illinois rule for the secant).
		if y := limit(c.told[x]); y*yl > 0 {
			lo, yl = x, y
			if moved < 0 {
				yh /= 2
			}
			moved = -1
		} else {
			hi, yh = x, y
			if moved > 0 {
				yl /= 2
			}
			moved = 1
		}
	}
	return x
}

// nan stands where there is no number.
var nan = stats.Value(math.NaN())

func per100(x float64) string {
	return strconv.FormatFloat(math.Round(1000*x)/10+0, 'f', 1, 64) // +0: no "-0.0"
}
