package stats

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A BetaBinomial says how rates spread among groups: each group's rate is a
// draw from a beta distribution with this Mean, and Rho = 1/(a+b+1) is the
// correlation of two orders of one group. Rho 0 means no more spread than
// chance makes.
type BetaBinomial struct {
	Mean, Rho float64
	LogLik    float64 // of the counts, with binomial coefficients; NaN by moments
	Events, N int     // in all groups
}

// AB are the beta parameters a = Mean s, b = (1-Mean) s, s = 1/Rho - 1: +Inf
// where Rho is 0.
func (b BetaBinomial) AB() (alpha, beta float64) {
	s := 1/b.Rho - 1
	return b.Mean * s, (1 - b.Mean) * s
}

// BetaBinomialMoments matches mean and variance (divisor k-1) of the k raw
// rates x/n, groups of no size left out. It suits groups of like size. Rates
// that do not vary give Rho 0. Fewer than two groups, or counts that make no
// sense, are an error.
func BetaBinomialMoments(x, n []int) (BetaBinomial, error) {
	b, rates, err := rawRates(x, n)
	if err != nil {
		return b, err
	}
	mean, sd := stat.MeanStdDev(rates, nil)
	b.Mean, b.LogLik = mean, math.NaN()
	if sd > 0 && mean > 0 && mean < 1 {
		s := math.Max(0, mean*(1-mean)/(sd*sd)-1)
		b.Rho = 1 / (s + 1)
	}
	return b, nil
}

func rawRates(x, n []int) (b BetaBinomial, rates []float64, err error) {
	if len(x) != len(n) {
		return b, nil, errors.New("events and trials have different lengths")
	}
	for i := range x {
		if x[i] < 0 || x[i] > n[i] {
			return b, nil, errors.New("a group has more events than trials, or a negative count")
		}
		if n[i] > 0 {
			rates = append(rates, float64(x[i])/float64(n[i]))
			b.Events, b.N = b.Events+x[i], b.N+n[i]
		}
	}
	if len(rates) < 2 {
		return b, nil, errors.New("fewer than two groups")
	}
	return b, rates, nil
}

// BetaBinomialML fits by maximum likelihood over the logit of the mean and the
// log of a+b. Where the likelihood still rises at a+b of a million times the
// largest group, or no group has an event, or all have nothing else, Rho is 0
// and Mean the pooled rate. Errors as for [BetaBinomialMoments].
//
// Griffiths DA (1973) Biometrics 29:637-648.
func BetaBinomialML(x, n []int) (BetaBinomial, error) {
	b, _, err := rawRates(x, n)
	if err != nil {
		return b, err
	}
	b.Mean = float64(b.Events) / float64(b.N)
	b.LogLik = binomialLogLik(x, n, b.Mean)
	if b.Events == 0 || b.Events == b.N {
		return b, nil
	}
	start := []float64{Logit(b.Mean), math.Log(20)}
	if m, err := BetaBinomialMoments(x, n); err == nil && m.Rho > 0 && m.Rho < 1 {
		start[1] = math.Log(1/m.Rho - 1)
	}
	problem := optimize.Problem{
		Func: func(v []float64) float64 { return -betaBinomialLogLik(x, n, v, nil) },
		Grad: func(g, v []float64) {
			betaBinomialLogLik(x, n, v, g)
			g[0], g[1] = -g[0], -g[1]
		},
	}
	r, err := optimize.Minimize(problem, start, &optimize.Settings{GradientThreshold: 1e-9}, &optimize.BFGS{})
	if r == nil || !finite(r.F) {
		return b, errors.Join(errors.New("the fit did not converge"), err)
	}
	// A line search that can't improve the last digits is no failure.
	if s := math.Exp(r.X[1]); -r.F > b.LogLik+1e-9 && s < 1e6*float64(largest(n)) {
		b.Mean, b.Rho, b.LogLik = Logistic(r.X[0]), 1/(s+1), -r.F
	}
	return b, nil
}

func largest(n []int) (m int) {
	for _, v := range n {
		m = max(m, v)
	}
	return m
}

func binomialLogLik(x, n []int, p float64) (l float64) {
	for i := range x {
		l += lchoose(n[i], x[i])
		if x[i] > 0 {
			l += float64(x[i]) * math.Log(p)
		}
		if x[i] < n[i] {
			l += float64(n[i]-x[i]) * math.Log1p(-p)
		}
	}
	return l
}

// betaBinomialLogLik is the log-likelihood at v = (logit mean, log(a+b)), its
// gradient into g unless nil.
func betaBinomialLogLik(x, n []int, v, g []float64) (l float64) {
	mean, s := Logistic(v[0]), math.Exp(v[1])
	a, b := mean*s, (1-mean)*s
	var da, db float64
	for i := range x {
		fx, fn := float64(x[i]), float64(n[i])
		l += lchoose(n[i], x[i]) + mathext.Lbeta(a+fx, b+fn-fx) - mathext.Lbeta(a, b)
		if g != nil {
			both := mathext.Digamma(s) - mathext.Digamma(s+fn)
			da += mathext.Digamma(a+fx) - mathext.Digamma(a) + both
			db += mathext.Digamma(b+fn-fx) - mathext.Digamma(b) + both
		}
	}
	if g != nil {
		g[0] = (da - db) * s * mean * (1 - mean)
		g[1] = da*a + db*b
	}
	return l
}

// Rate is the empirical-Bayes rate of a group with x events in n, its
// posterior mean (a+x)/(a+b+n), with the beta posterior's interval. The
// interval takes the spread among groups as known, so it is a little narrow
// with few groups. Where Rho is 0 every group has the pooled rate, with the
// Wilson interval of the pool, and a warning says so.
//
// Efron B, Morris C (1975) J Am Stat Assoc 70:311-319; Gelman A et al. (2013)
// Bayesian Data Analysis, 3rd ed., sec. 5.1.
func (b BetaBinomial) Rate(x, n int, level float64) Estimate {
	const method = "empirical Bayes, beta-binomial"
	if x == 0 && n == 0 {
		return Missing(0, method, "no observations")
	}
	if why := badCount(x, n, level); why != "" {
		return Missing(max(n, 0), method, why)
	}
	if b.Rho <= 0 {
		e := Wilson(b.Events, b.N, level)
		e.N, e.Method = n, method
		return e.Warn("the groups spread no more than chance: each has the pooled rate")
	}
	alpha, beta := b.AB()
	post := distuv.Beta{Alpha: alpha + float64(x), Beta: beta + float64(n-x)}
	tail := (1 - level) / 2
	return Estimate{Point: post.Mean(), Low: post.Quantile(tail), High: post.Quantile(1 - tail), Level: level, N: n, Method: method}
}

// JamesStein shrinks k normal means with one known variance toward their own
// mean by the factor c = 1 - (k-3) variance / sum (x - mean)^2, not below 0
// (Efron-Morris, positive part). Fewer than four values, a variance below 0 or
// values that are not finite give nil and NaN.
//
// Efron B, Morris C (1975) J Am Stat Assoc 70:311-319.
func JamesStein(x []float64, variance float64) (shrunk []float64, factor float64) {
	if len(x) < 4 || !(variance >= 0) || len(sortedFinite(x)) < len(x) {
		return nil, math.NaN()
	}
	mean, square := stat.Mean(x, nil), 0.0
	for _, v := range x {
		square += (v - mean) * (v - mean)
	}
	if square > 0 {
		factor = math.Max(0, 1-float64(len(x)-3)*variance/square)
	}
	for _, v := range x {
		shrunk = append(shrunk, mean+factor*(v-mean))
	}
	return shrunk, factor
}
