package demo

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// Numbers of a human foot and leg, in millimetres. Means, standard deviations
// and correlations are those of the public individual-level file of ANSUR II
// (Gordon CC et al., 2012 Anthropometric Survey of U.S. Army Personnel,
// NATICK/TR-15/007, 2014; 4,082 men, 1,986 women; a work of the US government):
// foot length, foot breadth (horizontal), ball of foot circumference, heel
// ankle circumference, ankle circumference, calf circumference, tibial height.
// Bodies are drawn log-normal from them; no person of that survey is copied.
const (
	footLength = iota
	footBreadth
	ballGirth
	heelGirth
	ankleGirth
	calfGirth
	kneeHeight
	nBody
)

type population struct {
	mean, sd [nBody]float64
	corr     [nBody * (nBody + 1) / 2]float64 // upper triangle, row by row
	ankleAt  float64                          // height of the least ankle girth (judgement)
	lower    *mat.TriDense
}

var men = &population{
	mean: [nBody]float64{271.18, 101.86, 252.02, 343.47, 229.34, 392.26, 468.21},
	sd:   [nBody]float64{13.10, 5.23, 12.94, 16.62, 14.65, 29.71, 26.61},
	corr: [...]float64{
		1, 0.5887, 0.5971, 0.7936, 0.4891, 0.3750, 0.6970,
		1, 0.8679, 0.7039, 0.6013, 0.5552, 0.4009,
		1, 0.7468, 0.6823, 0.6190, 0.4067,
		1, 0.7190, 0.6262, 0.6195,
		1, 0.8163, 0.2768,
		1, 0.2068,
		1,
	},
	ankleAt: 117,
}

var women = &population{
	mean: [nBody]float64{246.29, 92.71, 228.11, 310.32, 215.74, 373.26, 437.77},
	sd:   [nBody]float64{12.44, 4.78, 11.77, 15.31, 14.89, 28.52, 25.04},
	corr: [...]float64{
		1, 0.5551, 0.6055, 0.8029, 0.4284, 0.4102, 0.7322,
		1, 0.8590, 0.6618, 0.4882, 0.4847, 0.3756,
		1, 0.7395, 0.5903, 0.5575, 0.4330,
		1, 0.6454, 0.6069, 0.6505,
		1, 0.7663, 0.2530,
		1, 0.2724,
		1,
	},
	ankleAt: 107,
}

func init() {
	for _, p := range []*population{men, women} {
		s := mat.NewSymDense(nBody, nil)
		k := 0
		for i := range nBody {
			for j := i; j < nBody; j++ {
				s.SetSym(i, j, p.corr[k])
				k++
			}
		}
		var c mat.Cholesky
		c.Factorize(s)
		p.lower = mat.NewTriDense(nBody, mat.Lower, nil)
		c.LTo(p.lower)
	}
}

// A leg is one side of a person.
type leg struct {
	mm              [nBody]float64
	instep          float64
	ankleAt, peakAt float64 // heights of the least ankle and the largest calf girth
}

// A person has two legs, left and right, and an opinion on socks.
type person struct {
	sex  string
	legs [2]leg
}

// Spread of right less left, mm: half of it goes to each side. Length and calf
// are derived from published counts (SATRA Bulletin 2018 by way of a news
// article; Stein et al. 1995, Chest 107), the others are judgement.
var sideSD = [nBody]float64{3, 2, 3.5, 3.5, 3, 4, 0}

func (w *workshop) person(no int) person {
	r := w.random(streamPerson, no)
	p := person{sex: "f"}
	pop := women
	if r.Float64() < 0.52 {
		p.sex, pop = "m", men
	}
	mid := pop.draw(r)
	// The girth over the instep against the ball: judgement; the survey has none.
	instep := mid[ballGirth] * (1.05 + 0.02*r.NormFloat64())
	peak := 0.66 + 0.03*r.NormFloat64() // of the way from ankle to knee
	for s := range p.legs {
		p.legs[s].mm = mid
		p.legs[s].instep = instep
	}
	for k, sd := range sideSD {
		half := sd * r.NormFloat64() / 2
		p.legs[0].mm[k] -= half
		p.legs[1].mm[k] += half
	}
	for s := range p.legs {
		l := &p.legs[s]
		l.ankleAt = pop.ankleAt
		l.peakAt = l.ankleAt + peak*(l.mm[kneeHeight]-l.ankleAt)
	}
	return p
}

// draw is one body, log-normal with the population's means, spreads and
// correlations.
func (p *population) draw(r *rand.Rand) (mm [nBody]float64) {
	var z [nBody]float64
	for i := range z {
		z[i] = r.NormFloat64()
	}
	for i := range mm {
		x := 0.0
		for j := 0; j <= i; j++ {
			x += p.lower.At(i, j) * z[j]
		}
		cv := p.sd[i] / p.mean[i]
		s2 := math.Log1p(cv * cv)
		mm[i] = math.Exp(math.Log(p.mean[i]) - s2/2 + math.Sqrt(s2)*x)
	}
	return mm
}

// girthAt is the girth at a height above the floor: it swells from the ankle to
// the calf along half a cosine wave and falls a little towards the knee. The
// curve is judgement; it meets the survey's ankle and calf girths.
func (l *leg) girthAt(height float64) float64 {
	ankle, calf := l.mm[ankleGirth], l.mm[calfGirth]
	switch {
	case height <= l.ankleAt:
		return ankle
	case height <= l.peakAt:
		t := (height - l.ankleAt) / (l.peakAt - l.ankleAt)
		return ankle + (calf-ankle)*(1-math.Cos(math.Pi*t))/2
	}
	t := min(1, (height-l.peakAt)/(l.mm[kneeHeight]-l.peakAt))
	return calf * (1 - 0.06*(1-math.Cos(math.Pi*t))/2)
}
