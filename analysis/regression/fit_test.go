package regression

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
)

// Low birth weight (birthwt, R package MASS; Hosmer DW, Lemeshow S (2000)
// Applied Logistic Regression, 2nd ed., Tables 2.2 and 2.3 and the main-effects
// model): estimates and standard errors as printed by R 4.2.2 glm with epsilon
// 1e-14, log-likelihoods beside them (-111.286 on their page 36).
func TestLogisticOfHosmerLemeshow(t *testing.T) {
	b := example(t, "birthwt.csv")
	race2, race3 := is(b["race"], 2), is(b["race"], 3)
	for _, w := range []struct {
		columns  [][]float64
		coef, se []float64
		loglik   float64
	}{
		{
			[][]float64{b["age"], b["lwt"], race2, race3, b["ftv"]},
			[]float64{1.2953657488, -0.0238229738, -0.0142446112, 1.0038978235, 0.4331084281, -0.0493083177},
			[]float64{1.07144323315, 0.03372962259, 0.00654071946, 0.49785898504, 0.36224026031, 0.16723909732},
			-111.286453,
		},
		{
			[][]float64{b["lwt"], race2, race3},
			[]float64{0.8057534704, -0.0152231024, 1.0810661901, 0.4806032597},
			[]float64{0.84516669333, 0.00643936054, 0.48805219065, 0.35667372980},
			-111.629545,
		},
		{
			[][]float64{b["age"], b["lwt"], race2, race3, b["smoke"], b["ptl"], b["ht"], b["ui"]},
			[]float64{0.4644032827, -0.0270697793, -0.0151825629, 1.2632193755, 0.8616351075, 0.9233491572, 0.5417551195, 1.8336956099, 0.7585965042},
			[]float64{1.20470210967, 0.03645261430, 0.00692790239, 0.52646774131, 0.43919749203, 0.40085831534, 0.34626656236, 0.69176998813, 0.45939182116},
			-100.713476,
		},
	} {
		d, c := plain(t, b["low"], w.columns...)
		f := settled(t, d, c, false)
		assert.InDelta(t, w.loglik, penalised(f), 1e-6)
		for j := range w.coef {
			assert.InDelta(t, w.coef[j], f.Coef[j], 1e-9, "coefficient %d", j)
			assert.InDelta(t, w.se[j], errorOf(f, j), 1e-9, "standard error %d", j)
		}
	}
}

// birthwt, smoking set on and off for all: 0.416271, 0.245806, difference
// 0.170465, ratio 1.693495 (g-computation in R).
func TestStandardisedRiskOfBirthwt(t *testing.T) {
	b := example(t, "birthwt.csv")
	d, c := plain(t, b["low"], b["smoke"], b["age"], b["lwt"], is(b["race"], 2), is(b["race"], 3), b["ptl"], b["ht"], b["ui"])
	f := settled(t, d, c, false)
	for j, want := range []float64{0.464403, 0.923349, -0.0270698, -0.0151826, 1.263219, 0.861635, 0.541755, 1.833696, 0.758597} {
		assert.InDelta(t, want, order(f)[j], 1e-6, "coefficient %d", j)
	}
	m := Model{f, []Question{d.Question(0, 0)}}
	es, _ := m.Standardise()
	assert.InDelta(t, 0.416271, es[0].On, 5e-7)
	assert.InDelta(t, 0.245806, es[0].Off, 5e-7)
	assert.InDelta(t, 0.170465, es[0].Difference(), 5e-7)
	assert.InDelta(t, 1.693495, es[0].Ratio(), 5e-7)
	// The linearization gives the same answers at the estimates.
	l := NewLinearization(m).respond(m.Questions[0]).answer(f.weights, make([]float64, f.sums.P))
	assert.InDelta(t, es[0].On, l.On, 1e-7)
	assert.InDelta(t, es[0].Off, l.Off, 1e-7)
	// The delta-method standard error given what was observed is 0.0729572 (R);
	// the robust one with random covariates must be near it.
	assert.InDelta(t, 0.0729572, NewLinearization(m).Uncertainty(0, es[0]).Difference.SE, 0.006)
}

// Hernan MA, Robins JM, Causal Inference: What If, Table 2.2: treatment goes
// with death crudely (7/13 v 3/7) but not once the condition L is taken into
// account: standardised 0.5 v 0.5.
func TestStandardisedRiskOfHernan(t *testing.T) {
	h := example(t, "hernan_table2_2.csv")
	ask := func(y []float64, columns ...[]float64) Effect {
		d, c := plain(t, y, columns...)
		m := Model{settled(t, d, c, false), []Question{d.Question(0, 0)}}
		es, _ := m.Standardise()
		return es[0]
	}
	// With L as a term beside it the ratio is 1: A has no effect in either level.
	e := ask(h["Y"], h["A"], h["L"])
	assert.InDelta(t, 1, e.Ratio(), 1e-7)
	assert.InDelta(t, 0.5, e.On, 1e-7)
	assert.InDelta(t, (7.0/13)/(3.0/7), ask(h["Y"], h["A"]).Ratio(), 1e-7)
}

// Heinze G, Schemper M (2002) Stat Med 21:2409-2419, endometrial data (R
// package brglm2). Estimates: brglm2 AS_mean; limits and likelihood ratios:
// direct maximisation in R, agreeing with the figures of R's logistf.
func TestFirthOfEndometrial(t *testing.T) {
	e := example(t, "endometrial.csv")
	d, c := plain(t, e["HG"], e["NV"], e["PI"], e["EH"])
	ml := d.newFit(c, d.Whole())
	ml.solve(50, 50, 1e-9)
	assert.True(t, ml.separated(), "NV has only events: maximum likelihood runs away")

	f := settled(t, d, c, true)
	assert.InDelta(t, -24.0372678, penalised(f), 1e-7)
	names := []int{0, 3, 1, 2} // intercept, NV, PI, EH
	for k, w := range []struct{ coef, se, low, high, lr float64 }{
		{3.7745597136, 1.4886916634, 1.08253711, 7.2092805, 8.19801358},
		{2.9292733532, 1.5507637295, 0.609724436, 7.85463171, 6.79845725},
		{-0.0347517599, 0.0395781473, -0.124458721, 0.0404554732, 0.746828513},
		{-2.6041639253, 0.7760176425, -4.36518325, -1.23272106, 17.7593175},
	} {
		j := names[k]
		assert.InDelta(t, w.coef, f.Coef[j], 2e-9)
		assert.InDelta(t, w.se, errorOf(f, j), 2e-9)
		low, high := profileLimits(f, j)
		assert.InDelta(t, w.low, low, 1e-6)
		assert.InDelta(t, w.high, high, 1e-6)
		assert.InDelta(t, w.lr, 2*(penalised(f)-profile(f, j, 0)), 1e-6)
	}
	// Refitting the intercept puts the mean risk back to the observed share.
	f.recentre()
	assert.InDelta(t, stat.Mean(e["HG"], nil), meanRisk(f), 1e-9)
}

func meanRisk(f *Fit) (mean float64) {
	for i := range f.risk {
		mean += f.Risk(i) * f.weights.of(i) / f.weights.total()
	}
	return mean
}

// The infection data shipped with R's logistf; estimates of brglm2, limits of
// logistf. The data may not be copied.
func TestFirthOfInfection(t *testing.T) {
	s := shared(t, "sex2.csv")
	d, c := plain(t, s["case"], s["dia"], s["age"], s["oc"], s["vic"], s["vicl"], s["vis"])
	f := settled(t, d, c, true)
	want := []float64{0.1202540491, 3.0960118274, -1.1059813314, -0.0688167271, 2.2688746522, -2.1114081853, -0.7883169514}
	assert.InDeltaSlice(t, want, order(f), 2e-9)
	for j, w := range map[int][2]float64{0: {-0.8185591, 1.07315122}, 1: {-1.9737884, -0.30742514}, 6: {0.7745682, 8.03029352}} {
		low, high := profileLimits(f, j)
		assert.InDelta(t, w[0], low, 1e-5)
		assert.InDelta(t, w[1], high, 1e-5)
	}
}

// profile is the penalised log-likelihood with coefficient j held at value and
// the others refitted; the penalty keeps all columns.
func profile(whole *Fit, j int, value float64) float64 {
	f := whole.fork()
	f.Coef[j] = value
	for range 1000 {
		f.pass(true)
		f.factor.Take(f.sums.Info)
		f.jeffreys()
		others := mat.NewSymDense(f.sums.P-1, nil)
		score := mat.NewVecDense(f.sums.P-1, nil)
		at := func(k int) int {
			if k >= j {
				return k + 1
			}
			return k
		}
		for a := range f.sums.P - 1 {
			score.SetVec(a, f.sums.Score[at(a)])
			for b := range a + 1 {
				others.SetSym(a, b, f.sums.Info[at(a)*f.sums.P+at(b)])
			}
		}
		var chol mat.Cholesky
		var step mat.VecDense
		chol.Factorize(others)
		_ = chol.SolveVecTo(&step, score)
		largest := mat.Norm(&step, math.Inf(1))
		for a := range f.sums.P - 1 {
			f.Coef[at(a)] += step.AtVec(a) * math.Min(1, 1/largest)
		}
		if largest < 1e-10 {
			break
		}
	}
	return penalised(f)
}

// profileLimits are where twice the fall reaches the chi-squared quantile, by
// bisection.
func profileLimits(f *Fit, j int) (low, high float64) {
	best, drop := penalised(f), distuv.ChiSquared{K: 1}.Quantile(0.95)
	limit := func(side float64) float64 {
		near, far := 0.0, side*10*errorOf(f, j)
		for range 50 {
			mid := (near + far) / 2
			if 2*(best-profile(f, j, f.Coef[j]+mid)) > drop {
				far = mid
			} else {
				near = mid
			}
		}
		return f.Coef[j] + near
	}
	return limit(-1), limit(1)
}

// Firth of a lone indicator is the log odds ratio with 1/2 added to each cell
// of the fourfold table (Heinze and Schemper 2002): by hand, for any separation.
func TestFirthByHand(t *testing.T) {
	var y, x []float64
	for _, cell := range []struct {
		n    int
		x, y float64
	}{{3, 0, 1}, {37, 0, 0}, {5, 1, 1}} {
		for range cell.n {
			y, x = append(y, cell.y), append(x, cell.x)
		}
	}
	d, c := plain(t, y, x)
	assert.InDelta(t, math.Log(5.5*37.5/(0.5*3.5)), settled(t, d, c, true).Coef[1], 1e-9)
	f, err := d.Fit(c, d.Whole(), nil)
	require.NoError(t, err)
	assert.True(t, f.Firth, "an exposure with events only")
}

// A column that others already give is set aside; the rest of the fit is as
// without it.
func TestColumnsThatOthersGive(t *testing.T) {
	b := example(t, "birthwt.csv")
	rest := is(b["smoke"], 0)
	want, c := plain(t, b["low"], b["lwt"], b["smoke"])
	got, _ := plain(t, b["low"], b["lwt"], b["smoke"], rest, make([]float64, len(rest)))
	f, g := settled(t, want, c, false), settled(t, got, c, false)
	assert.Equal(t, []bool{false, false, false, true, true}, g.factor.Aside)
	assert.InDeltaSlice(t, f.Coef, g.Coef[:3], 1e-9)
}

// farthest answers by linear programming how far coefficient j can go, towards
// side, along directions in which the likelihood never falls: the largest side
// b_j with every s x'b >= 0 and -1 <= b <= 1, s the sign of the outcome; 0 where
// its estimate has a maximum (Konis K (2007) Linear programming algorithms for
// detecting separated data, thesis, Oxford).
func farthest(t *testing.T, x *mat.Dense, y []float64, j int, side float64) float64 {
	n, p := x.Dims()
	// b = u - 1 with u and its slack summing to 2; one surplus a row.
	a, rhs, cost := mat.NewDense(n+p, n+2*p, nil), make([]float64, n+p), make([]float64, n+2*p)
	for i := range n {
		s := 2*y[i] - 1
		for k := range p {
			a.Set(i, k, s*x.At(i, k))
			rhs[i] += s * x.At(i, k)
		}
		a.Set(i, 2*p+i, -1)
	}
	for k := range p {
		a.Set(n+k, k, 1)
		a.Set(n+k, p+k, 1)
		rhs[n+k] = 2
	}
	cost[j] = -side
	least, _, err := lp.Simplex(cost, a, rhs, 1e-10, nil)
	require.NoError(t, err)
	return -least - side
}

// On many small tables the fitter says that an exposure is separated where linear
// programming finds a direction for it, and is at a maximum (its score is 0)
// where there is none. With CI=true on 1,000 tables, otherwise on 250.
func TestSeparationAgainstLinearProgram(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	found, settledDown := map[bool]int{}, 0
	tables := breadth.Few(250, 1000)
	for trial := range tables {
		n := 12 + rng.IntN(14)
		x, y := mat.NewDense(n, 4, nil), make([]float64, n)
		columns := make([][]float64, 3)
		for i := range n {
			x.SetRow(i, []float64{1, float64(rng.IntN(2)), float64(rng.IntN(4)), float64(rng.IntN(6) / 5)})
			y[i] = float64(rng.IntN(4) / 3)
			for k := range columns {
				columns[k] = append(columns[k], x.At(i, k+1))
			}
		}
		var rank mat.SVD
		rank.Factorize(x, mat.SVDNone)
		if m := stat.Mean(y, nil); m == 0 || m == 1 || rank.Rank(1e-9) < 4 {
			continue
		}
		d, c := plain(t, y, columns...)
		if !d.HasColumn(0) {
			continue // too rare
		}
		f := d.newFit(c, d.Whole())
		f.solve(50, 50, 1e-9)
		want := math.Max(farthest(t, x, y, 1, 1), farthest(t, x, y, 1, -1)) > 1e-7
		found[want]++
		if f.converged { // what is not goes to Firth's likelihood too
			assert.Equal(t, want, f.separated(), "table %d: %v, lost %v", trial, f.Coef, f.away)
			settledDown++
		}
		if f.pass(false); f.converged && f.away == nil {
			assert.InDeltaSlice(t, make([]float64, f.sums.P), f.sums.Score, 1e-7, "table %d", trial)
		}
		g, err := d.Fit(c, d.Whole(), nil)
		if err == nil && want {
			assert.True(t, g.Firth, "table %d", trial)
		}
	}
	assert.Greater(t, min(found[true], found[false]), tables/10, "both kinds must come up: %v", found)
	assert.Greater(t, settledDown, 9*(found[true]+found[false])/10)
}

// With subjects followed for different times the estimates maximise the
// likelihood sum d log(F r) + n log(1 - F r): no small step improves on them.
func TestFitMaximisesTheLikelihood(t *testing.T) {
	d := simulated(3000, 3)
	f, err := d.Fit(Columns{Exposures: true}, d.Whole(), nil)
	require.NoError(t, err)
	require.False(t, f.Firth)
	best := penalised(f)
	for j, b := range f.Coef {
		for _, h := range []float64{-1e-3, 1e-3} {
			f.Coef[j] = b + h
			assert.LessOrEqual(t, penalised(f), best+1e-9, "%s %+g", d.Names[j], h)
		}
		f.Coef[j] = b
	}
}

// simulated subjects: 3 years of entries, one covariate, two exposures (one
// inert, travelling with the other), customers of one to three subjects, late
// reports.
func simulated(n int, seed uint64) *Design {
	rng := stats.Source(seed, 0)
	x, age, day := make([]int, n), make([]int, n), make([]int, n)
	level := [2][]Level{make([]Level, n), make([]Level, n)}
	s := Subjects{N: n, Cluster: make([]int32, n), Edges: []int{30, 60, 90, 120, 180, 240, 300, 365}}
	for i := range n {
		x[i], age[i], day[i] = rng.IntN(5), 1080*(n-i)/n, -1
		s.Cluster[i] = int32(rng.IntN(n * 3 / 4))
		eta := -2.6 + 0.2*float64(x[i])
		if rng.Float64() < 0.2+0.05*float64(x[i]) {
			level[0][i] = With
			eta += 0.8
			if rng.Float64() < 0.3 {
				level[0][i] = Mended
				eta -= 0.8
			}
		}
		if rng.Float64() < 0.1+0.2*float64(level[0][i]&1) {
			level[1][i] = With
		}
		if rng.Float64() < 0.05 {
			level[1][i] = Unknown
		}
		if rng.Float64() < stats.Logistic(eta) {
			day[i] = min(365, int(math.Exp(4.1+0.8*rng.NormFloat64())))
		}
	}
	s.Age = func(i int) int { return age[i] }
	s.Event = func(i int) (int, bool) { return day[i], day[i] >= 0 && day[i] <= age[i] }
	terms := []Term{{Names: []string{"x"}, Values: [][]float64{{-2}, {-1}, {0}, {1}, {2}}, Code: func(i int) int { return x[i] }}}
	var exposures []Exposure
	for e, name := range []string{"cause", "inert"} {
		exposures = append(exposures, Exposure{Name: name, Level: func(i int) Level { return level[e][i] }})
	}
	return NewDesign(s, terms, exposures)
}

// By hand: edges 30, 60, 365. Followed to 365: one report by 30, one by 60, two
// later. Followed to 60: two by 30, one by 60. Followed to 30: three.
// g(365) = 2/4; g(60) = (1+1)/(2+3) = 2/5; F(60) = 1/2, F(30) = 1/2 * 3/5.
func TestReportShareByHand(t *testing.T) {
	d := &Design{Edges: []int{30, 60, 365}}
	for _, e := range [][3]uint8{{0, 2, 1}, {1, 2, 1}, {2, 2, 2}, {0, 1, 2}, {1, 1, 1}, {0, 0, 3}} {
		for range e[2] {
			d.delays = append(d.delays, delay{0, e[0], e[1]})
		}
	}
	share := d.reportShare(nil)
	assert.InDeltaSlice(t, []float64{0.3, 0.5, 1}, share, 1e-12)
	// A subject followed for 45 days: halfway between 0.3 and 0.5.
	assert.InDelta(t, 0.4, ShareBy(d.Edges, share, 45), 1e-12)
	assert.InDelta(t, 0.15, ShareBy(d.Edges, share, 15), 1e-12)
	assert.InDelta(t, 1, ShareBy(d.Edges, share, 900), 1e-12)
}

// Patterns parted by an exposure are the same model as with it in the design.
func TestSplit(t *testing.T) {
	d := simulated(2000, 5)
	odd := func(i int) Level { return Level(i % 2) }
	s, levels := d.Split(odd)
	require.Equal(t, len(d.Subject), len(s.Subject))
	for k, i := range s.Subject {
		p := s.Pattern(k)
		assert.Equal(t, odd(int(i)), levels[p])
		assert.Equal(t, d.age[d.Pattern(k)], s.age[p])
	}
	a, b := d.Whole(), s.Whole()
	assert.Equal(t, a.Events(), b.Events())
	assert.Equal(t, a.total(), b.total())
	f, err := d.Fit(Columns{Exposures: true}, a, nil)
	require.NoError(t, err)
	g, err := s.Fit(Columns{Exposures: true}, b, nil)
	require.NoError(t, err)
	assert.InDeltaSlice(t, f.Coef, g.Coef, 1e-8)
}
