package stats

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A Group is one of several alike ones (a measurer): the log-likelihood of its
// effect, and about where that has its top and how wide it is; the grid is laid
// out by them, so a group must not be so small that they mean nothing.
type Group struct {
	LogLik     func(effect float64) float64
	Top, Width float64
}

// BinomialGroup is a group with x events in n whose effect is added to the logit
// of a known chance: the group's share is Logistic(Logit(chance)+effect). n must
// be positive, 0 <= x <= n and the chance strictly between 0 and 1.
func BinomialGroup(x, n int, chance float64) Group {
	a, b, at := float64(x), float64(n-x), Logit(chance)
	return Group{
		LogLik: func(effect float64) float64 {
			eta := at + effect
			// log p = -log(1+exp(-eta)), log(1-p) = log p - eta
			logp := -math.Log1p(math.Exp(-eta))
			if eta < -30 {
				logp = eta
			}
			return (a+b)*logp - b*eta
		},
		Top: math.Log((a+0.5)/(b+0.5)) - at, Width: math.Sqrt(1/(a+0.5) + 1/(b+0.5)),
	}
}

// A Hierarchy is the posterior of groups whose effects are draws from one normal
// distribution of unknown mean and spread: effect ~ N(mean, spread^2), the prior
// of the mean flat, that of the spread half-normal. It is summed over a grid, so
// that the uncertainty of mean and spread is carried and a spread of nothing is
// one of several possibilities, not a certainty.
//
// Gelman A et al. (2013) Bayesian Data Analysis, 3rd ed., sec. 5.4; a half-normal
// prior of scale 0.5 for the spread of log odds is one that Röver C et al. (2021)
// Res Synth Methods 12:448-474 discuss.
type Hierarchy struct {
	effects []float64   // the grid, equally spaced
	means   []int       // grid points that the mean is taken at
	spreads []float64   // ascending, the first 0
	kernel  [][]float64 // [spread]: mass of a normal in the cells around its mean, which is in the middle one
	like    [][]float64 // [group][effect], its greatest 1
	weight  []float64   // posterior of [mean][spread]
	each    [][]float64 // [group][mean][spread]: the group's own likelihood there
}

// Sizes of the grid.
const (
	gridEffects = 1200 // at most
	gridMeans   = 30   // on either side of the middle
	gridSpreads = 36
)

// NewHierarchy sums up the groups under a half-normal prior of that scale for
// the spread. Fewer than two groups, or a likelihood that is nowhere finite, are
// an error.
func NewHierarchy(groups []Group, scale float64) (*Hierarchy, error) {
	if len(groups) < 2 || !(scale > 0) {
		return nil, errors.New("fewer than two groups")
	}
	h := &Hierarchy{}
	h.lay(groups, scale)
	for _, g := range groups {
		l := make([]float64, len(h.effects))
		for k, e := range h.effects {
			l[k] = g.LogLik(e)
		}
		top := floats.Max(l)
		if math.IsNaN(top) || math.IsInf(top, 0) {
			return nil, errors.New("a group's likelihood is not finite")
		}
		for k := range l {
			l[k] = math.Exp(l[k] - top)
		}
		h.like = append(h.like, l)
	}
	logw := make([]float64, len(h.means)*len(h.spreads))
	for k := range logw {
		s := k % len(h.spreads)
		z := h.spreads[s] / scale
		logw[k] = math.Log(cell(h.spreads, s)) - z*z/2
	}
	for _, l := range h.like {
		each := make([]float64, len(logw))
		for k := range each {
			from, to, mass := h.around(k)
			each[k] = floats.Dot(mass, l[from:to])
			logw[k] += math.Log(each[k])
		}
		h.each = append(h.each, each)
	}
	top := floats.Max(logw)
	if math.IsNaN(top) || math.IsInf(top, 0) {
		return nil, errors.New("the groups have nothing in common")
	}
	h.weight = make([]float64, len(logw))
	for k := range logw {
		h.weight[k] = math.Exp(logw[k] - top)
	}
	floats.Scale(1/floats.Sum(h.weight), h.weight)
	return h, nil
}

// lay lays out the grid: effects as far as any group reaches, in steps that the
// narrowest likelihood needs, and that of all groups together.
func (h *Hierarchy) lay(groups []Group, scale float64) {
	lo, hi, narrow, info := math.Inf(1), math.Inf(-1), math.Inf(1), 0.0
	tops := make([]float64, len(groups))
	for k, g := range groups {
		lo, hi = math.Min(lo, g.Top-5*g.Width), math.Max(hi, g.Top+5*g.Width)
		narrow, info, tops[k] = math.Min(narrow, g.Width), info+1/(g.Width*g.Width), g.Top
	}
	middle, sd := stat.MeanStdDev(tops, nil)
	n := min(gridEffects, int((hi-lo)/math.Min(narrow/2, 0.7/math.Sqrt(info)))+1)
	step := (hi - lo) / float64(n-1)
	for k := range n {
		h.effects = append(h.effects, lo+step*float64(k))
	}
	half := 5 * math.Sqrt(1/info+(sd*sd+scale*scale/4)/float64(len(groups)))
	half = math.Min(half, math.Max(hi-middle, middle-lo))
	stride := max(1, int(math.Ceil(half/step/gridMeans)))
	at := int(math.Round((middle - lo) / step))
	for k := -gridMeans; k <= gridMeans; k++ {
		if m := at + k*stride; m >= 0 && m < n {
			h.means = append(h.means, m)
		}
	}
	widest := math.Min(4*scale, 6*sd+step)
	for s := range gridSpreads {
		z := float64(s) / (gridSpreads - 1)
		h.spreads = append(h.spreads, widest*z*z) // closer together near 0
		h.kernel = append(h.kernel, normalCells(h.spreads[s]/step))
	}
}

// normalCells is the mass of N(0, sd^2) in the unit cells around …, -1, 0, 1, … up to
// 5 sd on either side.
func normalCells(sd float64) []float64 {
	if sd == 0 {
		return []float64{1}
	}
	reach := int(5*sd) + 1
	cells := make([]float64, 2*reach+1)
	last := 0.5
	for k := range reach + 1 {
		upper := distuv.UnitNormal.CDF((float64(k) + 0.5) / sd)
		cells[reach-k], cells[reach+k] = upper-last, upper-last
		last = upper
	}
	cells[reach] *= 2 // half of it lies on either side
	return cells
}

// cell is the width of the grid around the k-th of the ascending x.
func cell(x []float64, k int) float64 {
	return (x[min(k+1, len(x)-1)] - x[max(k-1, 0)]) / 2
}

// around are the effects near mean and spread number k, with their mass.
func (h *Hierarchy) around(k int) (from, to int, mass []float64) {
	m, kernel := h.means[k/len(h.spreads)], h.kernel[k%len(h.spreads)]
	first := m - len(kernel)/2
	from, to = max(0, first), min(len(h.effects), first+len(kernel))
	return from, to, kernel[from-first : to-first]
}

// An Effect is the distribution of one group's effect: weights on grid points,
// their sum 1.
type Effect struct{ At, Weight []float64 }

// Without is what the other groups let expect of group i's effect: its prior.
func (h *Hierarchy) Without(i int) Effect {
	x := Effect{h.effects, make([]float64, len(h.effects))}
	others := make([]float64, len(h.weight))
	for k, w := range h.weight {
		if w /= h.each[i][k]; w > 0 && !math.IsInf(w, 0) {
			others[k] = w
		}
	}
	top := floats.Max(others)
	for k, w := range others {
		if w > 1e-8*top {
			from, to, mass := h.around(k)
			floats.AddScaled(x.Weight[from:to], w, mass)
		}
	}
	floats.Scale(1/floats.Sum(x.Weight), x.Weight)
	return x
}

// Given is x after data with this log-likelihood of the effect.
func (x Effect) Given(loglik func(effect float64) float64) Effect {
	out := Effect{x.At, make([]float64, len(x.At))}
	for e, at := range x.At {
		out.Weight[e] = loglik(at)
	}
	top := floats.Max(out.Weight)
	for e, l := range out.Weight {
		out.Weight[e] = x.Weight[e] * math.Exp(l-top)
	}
	floats.Scale(1/floats.Sum(out.Weight), out.Weight)
	return out
}

// Above is the chance that the effect is greater than a level that is normal and
// independent of it.
func (x Effect) Above(level distuv.Normal) (p float64) {
	for e, at := range x.At {
		p += x.Weight[e] * level.CDF(at)
	}
	return p
}

// Against is a figure that depends on the effect and on a normal level
// independent of it, the level taken at 41 quantiles: its median and the limits
// that leave (1-confidence)/2 on each side. A figure of only one of the two is
// right too.
func (x Effect) Against(level distuv.Normal, f func(level, effect float64) float64, confidence float64, n int, method string) Estimate {
	const quantiles = 41
	var points []weighted
	for q := range quantiles {
		l := level.Quantile((float64(q) + 0.5) / quantiles)
		points = x.figure(points, func(effect float64) float64 { return f(l, effect) })
	}
	return spreadOf(points, confidence, n, method)
}

// Alone is a figure that depends on the effect only; see [Effect.Against].
func (x Effect) Alone(f func(effect float64) float64, confidence float64, n int, method string) Estimate {
	return spreadOf(x.figure(nil, f), confidence, n, method)
}

// figure adds a figure at each effect that has any weight to points.
func (x Effect) figure(points []weighted, f func(effect float64) float64) []weighted {
	for e, w := range x.Weight {
		if w > 1e-9 {
			points = append(points, weighted{f(x.At[e]), w})
		}
	}
	return points
}

type weighted struct{ value, weight float64 }

// spreadOf is the median of points and the limits that leave (1-confidence)/2 on each
// side.
func spreadOf(points []weighted, confidence float64, n int, method string) Estimate {
	slices.SortFunc(points, func(a, b weighted) int {
		switch {
		case a.value < b.value:
			return -1
		case a.value > b.value:
			return 1
		}
		return 0
	})
	if len(points) == 0 {
		return Missing(n, method, "no figure")
	}
	total, last := 0.0, 0
	for k, p := range points { // equal values are one point
		total += p.weight
		if k > 0 && p.value-points[last].value <= 1e-12*math.Abs(p.value) {
			points[last].weight += p.weight
			continue
		}
		if k > 0 {
			last++
		}
		points[last] = p
	}
	points = points[:last+1]
	quantile := func(q float64) float64 { // straight between the middles of the points' weights
		below, at := 0.0, points[0].value
		last := 0.0
		for _, p := range points {
			middle := (below + p.weight/2) / total
			if middle >= q {
				if middle == last {
					return p.value
				}
				return at + (p.value-at)*(q-last)/(middle-last)
			}
			below, at, last = below+p.weight, p.value, middle
		}
		return at
	}
	tail := (1 - confidence) / 2
	return Estimate{Point: quantile(0.5), Low: quantile(tail), High: quantile(1 - tail), Level: confidence, N: n, Method: method}
}
