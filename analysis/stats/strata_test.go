package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// ucb: admission of men against women in six departments (Bickel, Hammel,
// O'Connell 1975, Science 187:398-404), as R's UCBAdmissions.
func ucb(t *testing.T) []TwoByTwo {
	s := example(t, "ucb_admissions.csv")
	tables := make([]TwoByTwo, 6)
	for i, n := range s.ints(t, "Freq") {
		at := &tables[s["Dept"][i][0]-'A']
		switch s["Gender"][i] + s["Admit"][i] {
		case "MaleAdmitted":
			at.A += n
		case "MaleRejected":
			at.B += n
		case "FemaleAdmitted":
			at.C += n
		default:
			at.D += n
		}
	}
	return tables
}

// illeEtVilaine: oesophageal cancer and 80 g and more of alcohol a day in six
// age groups (Breslow and Day 1980, ch. 4).
func illeEtVilaine(t *testing.T) []TwoByTwo {
	s := example(t, "ille_et_vilaine.csv")
	a, b := s.ints(t, "case_exposed"), s.ints(t, "control_exposed")
	c, d := s.ints(t, "case_unexposed"), s.ints(t, "control_unexposed")
	tables := make([]TwoByTwo, len(a))
	for i := range a {
		tables[i] = TwoByTwo{a[i], b[i], c[i], d[i]}
	}
	return tables
}

func smokingByRace(t *testing.T) []TwoByTwo {
	s := example(t, "birthwt.csv")
	tables := make([]TwoByTwo, 3)
	low, smoke := s.ints(t, "low"), s.ints(t, "smoke")
	for i, race := range s.ints(t, "race") {
		at := &tables[race-1]
		switch 2*smoke[i] + low[i] {
		case 3:
			at.A++
		case 2:
			at.B++
		case 1:
			at.C++
		default:
			at.D++
		}
	}
	return tables
}

// Digits of R 4.2.2 mantelhaen.test and a Tarone written in R;
// statsmodels agrees. Migraine: SAS/STAT, PROC FREQ, example on Cochran-
// Mantel-Haenszel statistics (8.3052 printed there).
func TestMantelHaenszel(t *testing.T) {
	for _, w := range []struct {
		name              string
		strata            []TwoByTwo
		or, low, high     float64
		cmh, p, corrected float64
		tarone            float64
	}{
		{"UCB", ucb(t), 0.904696828, 0.771907362, 1.06032976, 1.52460666, 0.216923697, 1.42694623, 18.82550125205},
		{"Ille-et-Vilaine", illeEtVilaine(t), 5.15762319, 3.56213054, 7.46774346, 85.009497, 2.96935424e-20, 83.2145302, 9.2993290786},
		{"migraine", []TwoByTwo{{16, 11, 5, 20}, {12, 16, 7, 19}}, 3.31316807, 1.44561319, 7.59337472, 8.30516934, 0.00395323964, 7.19829128, 1.490537337},
		{"smoking", smokingByRace(t), 3.08638125, 1.49073956, 6.38994864, 9.41340299, 0.00215405088, 8.3778897, 3.125007783},
	} {
		t.Run(w.name, func(t *testing.T) {
			checkEstimate(t, MantelHaenszelOddsRatio(w.strata, 0.95), w.or, w.low, w.high, 5e-8)
			plain := CochranMantelHaenszel(w.strata, false)
			assert.InEpsilon(t, w.cmh, plain.Statistic, 5e-9)
			assert.InEpsilon(t, w.p, plain.P, 5e-8)
			assert.InEpsilon(t, w.corrected, CochranMantelHaenszel(w.strata, true).Statistic, 5e-9)
			assert.InDelta(t, w.tarone, Tarone(w.strata).Statistic, 1e-9)
		})
	}
}

// A stratum that says nothing changes nothing; a lone stratum gives the
// crude odds ratio.
func TestMantelHaenszelStrata(t *testing.T) {
	base := illeEtVilaine(t)
	more := append([]TwoByTwo{{0, 0, 3, 4}, {0, 9, 0, 7}, {3, 0, 2, 0}, {}}, base...)
	a, b := MantelHaenszelOddsRatio(base, 0.95), MantelHaenszelOddsRatio(more, 0.95)
	assert.Equal(t, []float64{a.Point, a.Low, a.High}, []float64{b.Point, b.Low, b.High})
	assert.Equal(t, Tarone(base), Tarone(more))
	lone := TwoByTwo{12, 30, 9, 70}
	assert.InDelta(t, WoolfOddsRatio(lone, 0.95).Point, MantelHaenszelOddsRatio([]TwoByTwo{lone}, 0.95).Point, 1e-12)
	assert.InDelta(t, WoolfOddsRatio(lone, 0.95).High, MantelHaenszelOddsRatio([]TwoByTwo{lone}, 0.95).High, 1e-9)

	empty := MantelHaenszelOddsRatio([]TwoByTwo{{0, 10, 0, 10}}, 0.95)
	assert.False(t, empty.Given())
	assert.Equal(t, 20, empty.N)
	assert.False(t, MantelHaenszelOddsRatio(nil, 0.95).Given())
	assert.True(t, math.IsNaN(Tarone([]TwoByTwo{lone}).P))
	assert.True(t, math.IsNaN(CochranMantelHaenszel(nil, true).P))
}

// Tarone's statistic is 0 where all strata share one odds ratio exactly, odds ratio 1
// included (the quadratic degenerates there).
func TestTaroneHomogeneous(t *testing.T) {
	assert.InDelta(t, 0, Tarone([]TwoByTwo{{10, 20, 30, 60}, {4, 4, 8, 8}}).Statistic, 1e-12)
	assert.InDelta(t, 0, Tarone([]TwoByTwo{{10, 20, 10, 60}, {6, 4, 2, 4}}).Statistic, 1e-9)
}

// Fisher RA (1935) The Design of Experiments, tea; Fisher (1970), convictions
// of twins; R 4.2.2 fisher.test, mid-p by hand.
func TestFisherExact(t *testing.T) {
	tea := FisherExact(TwoByTwo{3, 1, 1, 3})
	assert.InDelta(t, 17.0/70, tea.Greater, 1e-12)
	assert.InDelta(t, 34.0/70, tea.TwoSided, 1e-12)
	assert.InDelta(t, 69.0/70, tea.Less, 1e-12)
	assert.InDelta(t, 2*(1.0/70+8.0/70), tea.MidP, 1e-12)
	twins := FisherExact(TwoByTwo{2, 10, 15, 3})
	swapped := FisherExact(TwoByTwo{2, 15, 10, 3})
	assert.InDelta(t, 0.000536724119, twins.TwoSided, 5e-13)
	assert.InDelta(t, 0.000536724119, swapped.TwoSided, 5e-13)
	assert.InDelta(t, 0.000465180943, twins.Less, 5e-13)
	assert.InDelta(t, 0.999984519, twins.Greater, nine)
	assert.InDelta(t, 0.000480661925, twins.MidP, 5e-13)
	assert.Equal(t, Fisher{1, 1, 1, 1}, FisherExact(TwoByTwo{0, 5, 0, 7}))
	assert.True(t, math.IsNaN(FisherExact(TwoByTwo{-1, 5, 0, 7}).TwoSided))
	big := FisherExact(TwoByTwo{7800, 92_200, 70_200, 829_800})
	assert.InDelta(t, 1, big.TwoSided, 1e-6)
}

// Benjamini and Hochberg (1995) J R Stat Soc B 57:289-300, section 4: 15
// p-values, 4 rejected at 0.05; adjusted values of R's p.adjust.
func TestBenjaminiHochberg(t *testing.T) {
	q := BenjaminiHochberg(example(t, "bh1995.csv").nums(t, "p"))
	want := []float64{0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.0638571429, 0.0638571429, 0.0645, 0.0765, 0.486, 0.5811818182, 0.7148750000, 0.7532307692, 0.8132142857, 1}
	assert.InDeltaSlice(t, want, q, 1e-10)
	count := func(level float64) (k int) {
		for _, v := range q {
			if v <= level {
				k++
			}
		}
		return k
	}
	assert.Equal(t, []int{4, 9}, []int{count(0.05), count(0.10)})
}

func TestBenjaminiHochbergProperties(t *testing.T) {
	nan := math.NaN()
	q := BenjaminiHochberg([]float64{0.04, nan, 0.01, 7, 0.04})
	assert.True(t, math.IsNaN(q[1]) && math.IsNaN(q[3]))
	assert.InDeltaSlice(t, []float64{0.04, 0.03, 0.04}, []float64{q[0], q[2], q[4]}, 1e-15)
	assert.Empty(t, BenjaminiHochberg(nil))
	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		p := make([]float64, 1+rng.IntN(30))
		for i := range p {
			p[i] = rng.Float64()
		}
		q := BenjaminiHochberg(p)
		for i := range p {
			assert.True(t, q[i] >= p[i] && q[i] <= 1)
			for j := range p {
				assert.True(t, p[i] > p[j] || q[i] <= q[j], "q keeps the order of p")
			}
		}
	}
}

func BenchmarkBenjaminiHochberg(b *testing.B) {
	p := make([]float64, 10_000)
	rng := Source(1, 0)
	for i := range p {
		p[i] = rng.Float64()
	}
	for b.Loop() {
		BenjaminiHochberg(p)
	}
}
