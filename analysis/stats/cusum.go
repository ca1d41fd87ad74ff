package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A BernoulliCUSUM watches single orders for a rise of the share of events
// from P0 to P1: the sum goes up by M-1 on an event, down by 1 otherwise, never
// under 0, and signals on reaching a limit. One step is a fixed amount of
// log-likelihood ratio; M is whole, which makes the run length exact.
type BernoulliCUSUM struct {
	P0, P1 float64
	M      int
}

// NewBernoulliCUSUM is the chart for P0 and a share near p1: M is the rounded
// ratio of the two log-likelihood steps, and P1 is the share for which that is
// exact. It is false unless 0 < p0 < p1 < 1 and the shares are far enough from
// 1 for M to be at least 2.
//
// Reynolds MR, Stoumbos ZG (1999) J Qual Technol 31:87-108.
func NewBernoulliCUSUM(p0, p1 float64) (BernoulliCUSUM, bool) {
	if !(p0 > 0 && p0 < p1 && p1 < 1) {
		return BernoulliCUSUM{}, false
	}
	m := math.Round(1 / bernoulliStep(p0, p1))
	if !(m >= 2 && m <= 1e5) {
		return BernoulliCUSUM{}, false
	}
	exact := root(func(p float64) float64 { return 1/bernoulliStep(p0, p) - m }, p0*(1+1e-9), 1-1e-9, 1e-15)
	return BernoulliCUSUM{p0, exact, int(m)}, exact > p0
}

// bernoulliStep is the fall of the log-likelihood ratio on a non-event, as a
// share of its whole range.
func bernoulliStep(p0, p1 float64) float64 {
	down := -math.Log((1 - p1) / (1 - p0))
	return down / math.Log(p1*(1-p0)/(p0*(1-p1)))
}

// RunLength is the average number of orders until the chart, started at 0,
// reaches limit while the share of events is p: exact, by solving the linear
// equations A(i) = 1 + p A(i+M-1) + (1-p) A(max(0,i-1)), A = 0 at the limit.
// NaN unless limit > 0 and 0 < p < 1; +Inf only if the run is longer than a
// float64 can say.
func (c BernoulliCUSUM) RunLength(p float64, limit int) float64 {
	if limit < 1 || c.M < 2 || !(p > 0 && p < 1) {
		return math.NaN()
	}
	// Steps down are single, so each A(i) is a line in A(i-1): from the top,
	// put the lines of the M-1 states above into one another.
	a, b := make([]float64, limit), make([]float64, limit)
	for i := limit - 1; i >= 0; i-- {
		up, slope := 0.0, 0.0 // A(i+M-1) = up + slope A(i)
		if top := i + c.M - 1; top < limit {
			slope = 1
			for k := top; k > i; k-- {
				up += slope * a[k]
				slope *= b[k]
			}
		}
		rest := 1 - p*slope
		if i == 0 {
			return (1 + p*up) / (p * (1 - slope))
		}
		a[i], b[i] = (1+p*up)/rest, (1-p)/rest
	}
	return math.NaN()
}

// Limit is the lowest limit whose run length without a rise (share P0) is at
// least orders; false where none up to 100,000 steps is.
func (c BernoulliCUSUM) Limit(orders float64) (limit int, ok bool) {
	lo, hi := 0, 1
	for !(c.RunLength(c.P0, hi) >= orders) {
		if lo, hi = hi, hi*2; hi > 100_000 {
			return 0, false
		}
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; c.RunLength(c.P0, mid) >= orders {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, true
}

// Path is the chart's sum after each order, and where it signalled (index of
// the order); after a signal it starts again at 0.
func (c BernoulliCUSUM) Path(event []bool, limit int) (sum []int, signals []int) {
	sum = make([]int, len(event))
	s := 0
	for i, e := range event {
		if e {
			s += c.M - 1
		} else {
			s = max(0, s-1)
		}
		sum[i] = s
		if s >= limit {
			signals, s = append(signals, i), 0
		}
	}
	return sum, signals
}

// RiskWeights are the steps of a risk-adjusted CUSUM for an order of risk p
// and a change of the odds by the factor ratio: log(R/(1-p+Rp)) on an event,
// -log(1-p+Rp) otherwise. NaN unless 0 <= p <= 1 and ratio > 0.
//
// Steiner SH, Cook RJ, Farewell VT, Treasure T (2000) Biostatistics 1:441-452.
func RiskWeights(p, ratio float64) (event, none float64) {
	if !(p >= 0 && p <= 1) || !(ratio > 0) || math.IsInf(ratio, 0) {
		return math.NaN(), math.NaN()
	}
	none = -math.Log(1 - p + ratio*p)
	return math.Log(ratio) + none, none
}

// RiskAdjustedCUSUM adds the weights of the orders up, never under 0, and
// signals on reaching limit, after which it starts again at 0. With a ratio
// over 1 it watches for a rise, under 1 for a fall. Orders without a risk
// (NaN) leave the sum where it was. signals are indices of orders; the slices
// should be as long as each other, the shorter rules.
func RiskAdjustedCUSUM(risk []float64, event []bool, ratio, limit float64) (sum []float64, signals []int) {
	sum = make([]float64, min(len(risk), len(event)))
	s := 0.0
	for i := range sum {
		hit, miss := RiskWeights(risk[i], ratio)
		if !event[i] {
			hit = miss
		}
		if !math.IsNaN(hit) {
			s = math.Max(0, s+hit)
		}
		sum[i] = s
		if s >= limit {
			signals, s = append(signals, i), 0
		}
	}
	return sum, signals
}

// RiskAdjustedRunLength is the average number of orders until a risk-adjusted
// CUSUM signals, when orders come at random from the given risks (weights nil:
// all alike) and their odds are truly changed by the factor truth (1: nothing
// has changed). The sum is taken at cells of width limit/300, the value between
// them linear (the Markov chain way of Brook D, Evans DA (1972) Biometrika
// 59:539-549). NaN where there is no risk strictly between 0 and 1 or an
// argument makes no sense. Group risks before calling: the cost is their number
// times 300, and one solve.
func RiskAdjustedRunLength(risk, weights []float64, ratio, truth, limit float64) float64 {
	const cells = 300
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
	m := mat.NewDense(cells, cells, nil)
	for i := range cells {
		m.Set(i, i, 1)
		at := float64(i) * limit / cells
		for k, p := range risk {
			w := weightAt(weights, k) / total
			chance := truth * p / (1 - p + truth*p)
			hit, miss := RiskWeights(p, ratio)
			spread(m, i, (at+hit)*cells/limit, w*chance)
			spread(m, i, (at+miss)*cells/limit, w*(1-chance))
		}
	}
	return solveOnes(m)
}

func weightAt(weights []float64, i int) float64 {
	if weights == nil {
		return 1
	}
	return weights[i]
}

// spread takes the chance of a move to position at off row i, shared between
// the two cells it lies between. At and past the end the run is over.
func spread(m *mat.Dense, i int, at, chance float64) {
	_, cells := m.Dims()
	at = math.Max(0, at)
	if at >= float64(cells) {
		return
	}
	j := int(at)
	frac := at - float64(j)
	m.Set(i, j, m.At(i, j)-chance*(1-frac))
	if j+1 < cells {
		m.Set(i, j+1, m.At(i, j+1)-chance*frac)
	}
}

// solveOnes is the first entry of the solution of m x = 1, or NaN.
func solveOnes(m *mat.Dense) float64 {
	n, _ := m.Dims()
	one := mat.NewVecDense(n, nil)
	for i := range n {
		one.SetVec(i, 1)
	}
	var lu mat.LU
	lu.Factorize(m)
	var x mat.VecDense
	if err := lu.SolveVecTo(&x, false, one); err != nil && math.IsInf(lu.Cond(), 1) {
		return math.NaN()
	}
	return x.AtVec(0)
}

// CUSUMRunLength is the average run length of a two-sided tabular CUSUM of
// independent normal values, in units of their standard deviation: reference
// value k, limit h, the mean off target by shift. Each side solves Page's
// integral equation by Gauss-Legendre quadrature; the two combine as
// 1/ARL = 1/ARL(up) + 1/ARL(down). NaN unless h > 0 and k >= 0.
//
// Page ES (1954); van Dobben de Bruyn CS (1968) Cumulative Sum Tests.
func CUSUMRunLength(k, h, shift float64) float64 {
	if !(h > 0) || !(k >= 0) || !finite(shift) {
		return math.NaN()
	}
	side := func(shift float64) float64 {
		return fredholm(0, h,
			func(from, to float64) float64 { return distuv.UnitNormal.Prob(to - from + k - shift) },
			func(from float64) float64 { return distuv.UnitNormal.CDF(k - from - shift) })
	}
	return 1 / (1/side(shift) + 1/side(-shift))
}

// EWMARunLength is the average run length of a two-sided EWMA of independent
// normal values started on target, with the limits it settles to, width
// standard deviations of the average out, the mean off target by shift. NaN
// unless 0 < lambda <= 1 and width > 0.
//
// Crowder SV (1987) Technometrics 29:401-407.
func EWMARunLength(lambda, width, shift float64) float64 {
	if !(lambda > 0 && lambda <= 1) || !(width > 0) || !finite(shift) {
		return math.NaN()
	}
	c := EWMALimits(0, 1, lambda, width, 0).High
	return fredholm(-c, c,
		func(from, to float64) float64 {
			return distuv.UnitNormal.Prob((to-(1-lambda)*from)/lambda-shift) / lambda
		}, nil)
}

// fredholm solves L(u) = 1 + L(0) atZero(u) + integral of L(x) kernel(u, x) over
// [a, b] and gives L(0), by 80 Gauss-Legendre nodes.
func fredholm(a, b float64, kernel func(from, to float64) float64, atZero func(from float64) float64) float64 {
	const nodes = 80
	x, w := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(x, w, a, b)
	x, w = append([]float64{0}, x...), append([]float64{0}, w...) // row 0 is L(0) itself
	m := mat.NewDense(nodes+1, nodes+1, nil)
	for i, from := range x {
		for j, to := range x {
			v := -w[j] * kernel(from, to)
			if j == 0 && atZero != nil {
				v = -atZero(from)
			}
			if i == j {
				v++
			}
			m.Set(i, j, v)
		}
	}
	return solveOnes(m)
}
