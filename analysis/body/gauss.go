package body

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// A gauss is the log-Gaussian of the first n coordinates of a layout, for one
// sex, in the form that comparing explanations needs.
type gauss struct {
	n     int
	mean  []float64
	prec  []float64 // inverse covariance, row by row
	sd    []float64 // of each coordinate by itself
	logC  float64   // ln of the density's constant
	typic []float64 // typical mm of each coordinate
}

var errCovariance = errors.New("the covariance of the numbers is not positive definite")

func newGauss(w *world, terms []term) (*gauss, error) {
	n := len(terms)
	g := &gauss{n: n}
	cov := mat.NewSymDense(n, nil)
	for i := range terms {
		g.mean = append(g.mean, terms[i].mean)
		g.typic = append(g.typic, terms[i].mm)
		for j := i; j < n; j++ {
			cov.SetSym(i, j, w.m.Inflate*w.cov(&terms[i], &terms[j]))
		}
		g.sd = append(g.sd, math.Sqrt(cov.At(i, i)))
	}
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		return nil, errCovariance
	}
	inv := mat.NewSymDense(n, nil)
	if err := ch.InverseTo(inv); err != nil {
		return nil, errCovariance
	}
	for i := range n {
		for j := range n {
			g.prec = append(g.prec, inv.At(i, j))
		}
	}
	g.logC = -float64(n)/2*math.Log(2*math.Pi) - ch.LogDet()/2
	return g, nil
}

// weigh fills v with prec·(l - mean) and returns the log density of l, which
// leaves out the Jacobian of the logarithm.
func (g *gauss) weigh(l, v []float64) float64 {
	n := g.n
	for i := range n {
		v[i] = 0
	}
	q := 0.0
	for i := range n {
		r := l[i] - g.mean[i]
		row := g.prec[i*n : i*n+n]
		for j, p := range row {
			v[j] += p * r
		}
	}
	for i := range n {
		q += v[i] * (l[i] - g.mean[i])
	}
	return g.logC - q/2
}

// logDensity is weigh without the weights; r is scratch space.
func (g *gauss) logDensity(l, r []float64) float64 {
	q, n := 0.0, g.n
	for i := range n {
		ri := l[i] - g.mean[i]
		r[i] = ri
		q += ri * (2*floats.Dot(g.prec[i*n:i*n+i], r[:i]) + ri*g.prec[i*n+i])
	}
	return g.logC - q/2
}

// moved is number i under another term t: its mean and variance given the
// others, from the precision of the whole without a new inversion.
func (g *gauss) moved(w *world, terms []term, i int, t *term) *alt {
	n := g.n
	c := make([]float64, n)
	pc := 0.0 // row i of the precision times c
	for j := range terms {
		if j != i {
			c[j] = w.m.Inflate * w.cov(t, &terms[j])
			pc += g.prec[i*n+j] * c[j]
		}
	}
	a := &alt{at: i, mean: t.mean, by: make([]float64, n), v: w.m.Inflate * w.cov(t, t)}
	for j := range n {
		if j == i {
			continue
		}
		s := -g.prec[j*n+i] * pc / g.prec[i*n+i]
		for k, x := range c {
			s += g.prec[j*n+k] * x
		}
		a.by[j] = s
		a.mean -= s * g.mean[j]
		a.v -= s * c[j]
	}
	a.logV = math.Log(a.v * g.prec[i*n+i])
	return a
}

// given is the expected logarithm of coordinate i given all the others, and its SD.
func (g *gauss) given(i int, l, v []float64) (mean, sd float64) {
	p := g.prec[i*g.n+i]
	return l[i] - v[i]/p, 1 / math.Sqrt(p)
}
