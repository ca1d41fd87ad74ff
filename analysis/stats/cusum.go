package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// riskWeights are the steps of a risk-adjusted CUSUM for an order of risk p
// and a change of the odds by the factor ratio: log(R/(1-p+Rp)) on an event,
// -log(1-p+Rp) otherwise. NaN unless 0 <= p <= 1 and ratio > 0.
//
// Steiner SH, Cook RJ, Farewell VT, Treasure T (2000) Biostatistics 1:441-452.
func riskWeights(p, ratio float64) (event, none float64) {
	if !(p >= 0 && p <= 1) || !(ratio > 0) || math.IsInf(ratio, 0) {
		return math.NaN(), math.NaN()
	}
	none = -math.Log(1 - p + ratio*p)
	return math.Log(ratio) + none, none
}

// An Excursion is one departure of a CUSUM: the sum left 0 at From, reached its
// limit at Signal and was back at 0 at Until, -1 while it is not. All are indices
// of orders.
type Excursion struct{ From, Signal, Until int }

// RiskAdjustedCUSUM adds the weights of the orders up, never under 0 and never
// over limit. With a ratio over 1 it watches for a rise, under 1 for a fall.
// It signals on reaching limit and stays in that excursion until it is back at
// 0: a lasting change is one signal, and the end of it is seen after about as
// many orders as its beginning was. Orders without a risk (NaN) leave the sum
// where it was. The slices should be as long as each other, the shorter rules.
//
// Steiner et al. (2000) as for [riskWeights]; holding the sum at the limit
// instead of starting again at 0 is judgement.
func RiskAdjustedCUSUM(risk []float64, event []bool, ratio, limit float64) (sum []float64, excursions []Excursion) {
	sum = make([]float64, min(len(risk), len(event)))
	s, from, open := 0.0, 0, false
	for i := range sum {
		hit, miss := riskWeights(risk[i], ratio)
		if !event[i] {
			hit = miss
		}
		if s == 0 {
			from = i
		}
		if !math.IsNaN(hit) {
			s = math.Min(limit, math.Max(0, s+hit))
		}
		sum[i] = s
		switch {
		case s >= limit && !open:
			open = true
			excursions = append(excursions, Excursion{from, i, -1})
		case s == 0 && open:
			open = false
			excursions[len(excursions)-1].Until = i
		}
	}
	return sum, excursions
}

// RiskAdjustedRunLength is the average number of orders until a risk-adjusted
// CUSUM signals, when orders come at random from the given risks (weights nil:
// all alike) and their odds are truly changed by the factor truth (1: nothing
// has changed). The sum is taken at cells of width limit/120, the value between
// them linear (the Markov chain way of Brook D, Evans DA (1972) Biometrika
// 59:539-549). NaN where there is no risk strictly between 0 and 1 or an
// argument makes no sense. Group risks before calling: the cost is their number
// times 120.
func RiskAdjustedRunLength(risk, weights []float64, ratio, truth, limit float64) float64 {
	const cells = 120
	if !(limit > 0) || !(ratio > 0) || ratio == 1 || !(truth > 0) || weights != nil && len(weights) != len(risk) {
		return math.NaN()
	}
	total, varies := 0.0, false
	for i, p := range risk {
		if !(p >= 0 && p <= 1) || weights != nil && !(weights[i] >= 0) {
			return math.NaN()
		}
		total += weightAt(weights, i)
		varies = varies || p > 0 && p < 1 && weightAt(weights, i) > 0
	}
	if !varies {
		return math.NaN()
	}
	c := newChain(cells)
	for k, p := range risk {
		w := weightAt(weights, k) / total
		chance := truth * p / (1 - p + truth*p)
		hit, miss := riskWeights(p, ratio)
		for i := range cells {
			c.move(i, float64(i)+hit*cells/limit, w*chance)
			c.move(i, float64(i)+miss*cells/limit, w*(1-chance))
		}
	}
	return c.length()
}

func weightAt(weights []float64, i int) float64 {
	if weights == nil {
		return 1
	}
	return weights[i]
}

// A chain is where a sum goes from each of its cells, and with which chance it is over.
type chain struct {
	to   *mat.Dense
	over []float64
}

func newChain(cells int) chain {
	return chain{mat.NewDense(cells, cells, nil), make([]float64, cells)}
}

// move adds the chance of a move from cell i to position at, shared between the two
// cells it lies between. At and past the end the run is over.
func (c chain) move(i int, at, chance float64) {
	cells := len(c.over)
	at = math.Max(0, at)
	if at >= float64(cells) {
		c.over[i] += chance
		return
	}
	j := int(at)
	frac := at - float64(j)
	c.to.Set(i, j, c.to.At(i, j)+chance*(1-frac))
	if j+1 < cells {
		c.to.Set(i, j+1, c.to.At(i, j+1)+chance*frac)
	} else {
		c.over[i] += chance * frac
	}
}

// length is the mean number of moves from the first cell until the run is over, NaN for
// one that never is. A cell is taken out by handing its moves on to those that lead to
// it. The chance to leave it is the sum of where it goes, not what staying leaves of 1,
// so that nothing is ever taken off anything and long runs are as exact as short ones
// (Grassmann WK, Taksar MI, Heyman DP (1985) Operations Research 33:1107-1116). It keeps to
// the band in which the steps of a sum lie, some 25 of 120 cells: a twentieth of the
// time of gonum's LU, which looks at all. The chain is used up.
func (c chain) length() float64 {
	n := len(c.over)
	moves := slices.Repeat([]float64{1}, n) // in a cell, and in those taken out behind it
	leaves := make([]float64, n)
	last := make([]int, n) // the last cell that a cell leads to
	below := 0             // how far back any leads
	for i := range n {
		for j, v := range c.to.RawRowView(i) {
			if v != 0 {
				last[i], below = j, max(below, i-j)
			}
		}
	}
	for k := range n {
		out := c.to.RawRowView(k)[k+1 : max(last[k], k)+1]
		leaves[k] = floats.Sum(out) + c.over[k]
		if !(leaves[k] > 0) {
			return math.NaN()
		}
		for i := k + 1; i <= min(k+below, n-1); i++ {
			row := c.to.RawRowView(i)
			if row[k] == 0 {
				continue
			}
			times := row[k] / leaves[k]
			last[i] = max(last[i], last[k])
			floats.AddScaled(row[k+1:][:len(out)], times, out)
			c.over[i] += times * c.over[k]
			moves[i] += times * moves[k]
		}
	}
	for k := n - 1; k >= 0; k-- {
		if last[k] > k {
			moves[k] += floats.Dot(c.to.RawRowView(k)[k+1:last[k]+1], moves[k+1:last[k]+1])
		}
		moves[k] /= leaves[k]
	}
	return moves[0]
}

// falseAlarms is the chance a year that a risk-adjusted CUSUM with this limit
// signals though nothing has changed, perYear orders being watched a year and
// the level of the risks estimated from x events among n orders: the mean over
// the first two years after the baseline (judgement) and over the levels that
// the baseline leaves possible (Jeffreys' posterior Beta(x+1/2, n-x+1/2) of the
// share). A run is taken as exponential after the orders that the sum needs to
// climb to its limit, for which the run length after the change stands, half a
// year at most.
//
// Dunbar MX (2007) Analysis and design of one- and two-sided CUSUM charts with
// known and estimated parameters, Georgia Southern University, averages run
// lengths over the estimated parameters likewise.
func falseAlarms(risk, weights []float64, ratio, limit float64, x, n int, perYear float64) float64 {
	const years = 2
	climb := RiskAdjustedRunLength(risk, weights, ratio, ratio, limit)
	orders := years*perYear - math.Min(climb, perYear/2)
	mean := 0.0
	for _, level := range levels(x, n) {
		mean += level.weight * -math.Expm1(-orders/RiskAdjustedRunLength(risk, weights, ratio, level.factor, limit)) / years
	}
	return mean
}

// RiskAdjustedLimit is the limit at which [falseAlarms] is rate, to 1 part in 100.
// NaN where there is none under 40, or an argument makes no sense. The wider the
// baseline leaves the level open, the higher it is.
func RiskAdjustedLimit(risk, weights []float64, ratio float64, x, n int, perYear, rate float64) float64 {
	if !(perYear > 0) || !(rate > 0 && rate < 1) || x < 1 || x >= n {
		return math.NaN()
	}
	off := func(limit float64) float64 {
		return math.Log(falseAlarms(risk, weights, ratio, limit, x, n, perYear) / rate)
	}
	// The logarithm of the rate is close to a line in the limit.
	a, b := 3.0, 5.0
	fa, fb := off(a), off(b)
	for range 12 {
		if math.IsNaN(fb) || fa == fb {
			return math.NaN()
		}
		if math.Abs(fb) < 0.01 {
			return b
		}
		a, b, fa = b, math.Max(0.05, math.Min(40, b-fb*(b-a)/(fb-fa))), fb
		fb = off(b)
	}
	return math.NaN()
}

type level struct{ factor, weight float64 }

// levels are the odds of a share relative to those of x/n, at the nodes of a
// ten-point Gauss-Legendre rule over the quantiles of its posterior.
func levels(x, n int) []level {
	const nodes = 10
	var at, weight [nodes]float64
	quad.Legendre{}.FixedLocations(at[:], weight[:], 0, 1)
	out := make([]level, nodes)
	for k := range out {
		out[k] = level{LevelQuantile(at[k], x, n), weight[k]}
	}
	return out
}

// LevelQuantile is the q quantile of the true odds over the estimated ones, after
// x events among n orders: Jeffreys' posterior Beta(x+1/2, n-x+1/2). NaN unless
// 0 < x < n and 0 < q < 1.
func LevelQuantile(q float64, x, n int) float64 {
	if x < 1 || x >= n || !(q > 0 && q < 1) {
		return math.NaN()
	}
	p := distuv.Beta{Alpha: float64(x) + 0.5, Beta: float64(n-x) + 0.5}.Quantile(q)
	return p / (1 - p) * float64(n-x) / float64(x)
}
