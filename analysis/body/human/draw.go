package human

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// tailFreedom makes the simulated people as heavy-tailed as the survey's: a
// t distribution with this many degrees of freedom has a kurtosis 4 % over the
// normal's (benchmark, section 2: Mardia kurtosis 4 % over Gaussian).
const tailFreedom = 54

// A Drawer simulates good forms of one sex: people from the log-Gaussian with
// slightly heavier tails, measured with the errors of a channel.
type Drawer struct {
	World *World
	chol  *mat.TriDense
}

func NewDrawer(w *World) (*Drawer, error) {
	cov := mat.NewSymDense(FeatureCount, nil)
	for i := range FeatureCount {
		for j := i; j < FeatureCount; j++ {
			cov.SetSym(i, j, w.Figures.cov[i][j])
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		return nil, errCovariance
	}
	l := new(mat.TriDense)
	ch.LTo(l)
	return &Drawer{w, l}, nil
}

// Person draws one right foot and leg, mm.
func (d *Drawer) Person(r *rand.Rand) (mm [FeatureCount]float64) {
	var z [FeatureCount]float64
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
		x := d.World.Figures.mean[i]
		for j := 0; j <= i; j++ {
			x += d.chol.At(i, j) * z[j] * k
		}
		mm[i] = math.Exp(x)
	}
	return mm
}

// Sides adds the side difference to the left of a person.
func (m *Measuring) Sides(r *rand.Rand, right [FeatureCount]float64) (b [CoreCount]float64) {
	common := r.NormFloat64() * math.Sqrt(m.SideCorr)
	own := math.Sqrt(1 - m.SideCorr)
	for i, x := range right {
		b[FeatureCount+i] = x
		b[i] = x + m.Side[i]*(common+own*r.NormFloat64())
	}
	return b
}

// Measure writes down the twelve numbers of a body, rounded to a step.
func (m *Measuring) Measure(r *rand.Rand, b [CoreCount]float64, step float64) [CoreCount]float64 {
	return m.write(r, b, m.GirthOffset+m.GirthSD*r.NormFloat64(), step)
}

// write is measure with the girth offset of the form given.
func (m *Measuring) write(r *rand.Rand, b [CoreCount]float64, tape, step float64) (y [CoreCount]float64) {
	line := m.TraceOffset + m.TraceSD*r.NormFloat64()
	common, own := math.Sqrt(m.Common), math.Sqrt(1-m.Common)
	for i := range FeatureCount {
		both := common * r.NormFloat64()
		for s := range 2 {
			x := b[s*FeatureCount+i] + m.Extra[i] + m.Reading[i]*(both+own*r.NormFloat64())
			if IsGirth(i) {
				x += tape
			} else {
				x += line
			}
			y[s*FeatureCount+i] = math.Round(x/step) * step
		}
	}
	return y
}
