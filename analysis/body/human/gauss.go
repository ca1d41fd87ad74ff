package human

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// A Gauss is the log-Gaussian of the first n coordinates of a layout, for one
// sex, in the form that comparing explanations needs.
type Gauss struct {
	N     int
	Mean  []float64
	Prec  []float64 // inverse covariance, row by row
	SD    []float64 // of each coordinate by itself
	LogC  float64   // ln of the density's constant
	Typic []float64 // typical mm of each coordinate

	unusual func() *crowd // the people of unusuals, once added
}

var errCovariance = errors.New("the covariance of the numbers is not positive definite")

func NewGauss(w *World, terms []Term) (*Gauss, error) {
	n := len(terms)
	g := &Gauss{N: n, Mean: make([]float64, n), Typic: make([]float64, n), SD: make([]float64, n), Prec: make([]float64, 0, n*n)}
	cov := mat.NewSymDense(n, nil)
	for i := range terms {
		g.Mean[i], g.Typic[i] = terms[i].Mean, terms[i].MM
		for j := i; j < n; j++ {
			cov.SetSym(i, j, w.Measuring.Inflate*w.Cov(&terms[i], &terms[j]))
		}
		g.SD[i] = math.Sqrt(cov.At(i, i))
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
			g.Prec = append(g.Prec, inv.At(i, j))
		}
	}
	g.LogC = -float64(n)/2*math.Log(2*math.Pi) - ch.LogDet()/2
	return g, nil
}

// Weigh fills v with prec·(l - mean) and returns the log density of l, which
// leaves out the Jacobian of the logarithm.
func (g *Gauss) Weigh(l, v []float64) float64 {
	n := g.N
	for i := range n {
		v[i] = 0
	}
	q := 0.0
	for i := range n {
		r := l[i] - g.Mean[i]
		row := g.Prec[i*n : i*n+n]
		for j, p := range row {
			v[j] += p * r
		}
	}
	for i := range n {
		q += v[i] * (l[i] - g.Mean[i])
	}
	return g.LogC - q/2
}

// LogDensity is weigh without the weights; r is scratch space.
func (g *Gauss) LogDensity(l, r []float64) float64 {
	q, n := 0.0, g.N
	for i := range n {
		ri := l[i] - g.Mean[i]
		r[i] = ri
		q += ri * (2*floats.Dot(g.Prec[i*n:i*n+i], r[:i]) + ri*g.Prec[i*n+i])
	}
	return g.LogC - q/2
}

// Given is the expected logarithm of coordinate i given all the others, and its SD.
func (g *Gauss) Given(i int, l, v []float64) (mean, sd float64) {
	p := g.Prec[i*g.N+i]
	return l[i] - v[i]/p, 1 / math.Sqrt(p)
}

// Given is the joint model of the first terms given that the last ones have
// logarithms l, nil where it can't be worked out: its precision is that block of
// the whole precision matrix.
func Given(w *World, terms []Term, l []float64) *Gauss {
	all, err := NewGauss(w, terms)
	if err != nil {
		return nil
	}
	if len(l) == 0 {
		return all
	}
	n := all.N - len(l)
	g := &Gauss{N: n, Typic: all.Typic[:n], SD: make([]float64, n)}
	block := mat.NewSymDense(n, nil)
	push := mat.NewVecDense(n, nil) // -P_ce (l - mean_e)
	for i := range n {
		for j := range n {
			p := all.Prec[i*all.N+j]
			g.Prec = append(g.Prec, p)
			if j >= i {
				block.SetSym(i, j, p)
			}
		}
		s := 0.0
		for k, x := range l {
			s -= all.Prec[i*all.N+n+k] * (x - all.Mean[n+k])
		}
		push.SetVec(i, s)
	}
	var ch mat.Cholesky
	if !ch.Factorize(block) {
		return nil
	}
	var move mat.VecDense
	cov := mat.NewSymDense(n, nil)
	if ch.SolveVecTo(&move, push) != nil || ch.InverseTo(cov) != nil {
		return nil
	}
	for i := range n {
		g.Mean = append(g.Mean, all.Mean[i]+move.AtVec(i))
		g.SD[i] = math.Sqrt(cov.At(i, i))
	}
	g.LogC = -float64(n)/2*math.Log(2*math.Pi) + ch.LogDet()/2
	return g
}
