package body

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// tailFreedom makes the simulated people as heavy-tailed as the survey's: a
// t distribution with this many degrees of freedom has a kurtosis 4 % over the
// normal's (benchmark, section 2: Mardia kurtosis 4 % over Gaussian).
const tailFreedom = 54

// A drawer simulates good forms of one sex: people from the log-Gaussian with
// slightly heavier tails, measured with the errors of a channel.
type drawer struct {
	w    *world
	chol *mat.TriDense
}

func newDrawer(w *world) (*drawer, error) {
	cov := mat.NewSymDense(features, nil)
	for i := range features {
		for j := i; j < features; j++ {
			cov.SetSym(i, j, w.fig.cov[i][j])
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		return nil, errCovariance
	}
	l := new(mat.TriDense)
	ch.LTo(l)
	return &drawer{w, l}, nil
}

// person draws one right foot and leg, mm.
func (d *drawer) person(r *rand.Rand) (mm [features]float64) {
	var z [features]float64
	for i := range z {
		z[i] = r.NormFloat64()
	}
	chi := 0.0
	for range tailFreedom {
		x := r.NormFloat64()
		chi += x * x
	}
	k := math.Sqrt((tailFreedom - 2) / chi)
	for i := range mm {
		x := d.w.fig.mean[i]
		for j := 0; j <= i; j++ {
			x += d.chol.At(i, j) * z[j] * k
		}
		mm[i] = math.Exp(x)
	}
	return mm
}

// sides adds the side difference to the left of a person.
func (m *Measuring) sides(r *rand.Rand, right [features]float64) (b [core]float64) {
	common := r.NormFloat64() * math.Sqrt(m.SideCorr)
	own := math.Sqrt(1 - m.SideCorr)
	for i, x := range right {
		b[features+i] = x
		b[i] = x + m.Side[i]*(common+own*r.NormFloat64())
	}
	return b
}

// measure writes down the twelve numbers of a body, rounded to a step.
func (m *Measuring) measure(r *rand.Rand, b [core]float64, step float64) [core]float64 {
	return m.write(r, b, m.GirthOffset+m.GirthSD*r.NormFloat64(), step)
}

// write is measure with the girth offset of the form given.
func (m *Measuring) write(r *rand.Rand, b [core]float64, tape, step float64) (y [core]float64) {
	line := m.TraceOffset + m.TraceSD*r.NormFloat64()
	common, own := math.Sqrt(m.Common), math.Sqrt(1-m.Common)
	for i := range features {
		both := common * r.NormFloat64()
		for s := range 2 {
			x := b[s*features+i] + m.Extra[i] + m.Reading[i]*(both+own*r.NormFloat64())
			if girth(i) {
				x += tape
			} else {
				x += line
			}
			y[s*features+i] = math.Round(x/step) * step
		}
	}
	return y
}
