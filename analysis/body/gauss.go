package body

import (
	"errors"
	"math"

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

// given is the expected logarithm of coordinate i given all the others, and its SD.
func (g *gauss) given(i int, l, v []float64) (mean, sd float64) {
	p := g.prec[i*g.n+i]
	return l[i] - v[i]/p, 1 / math.Sqrt(p)
}
