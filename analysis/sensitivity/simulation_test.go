package sensitivity

import (
	"flag"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

// Shops whose truth is known. The short run is the default; the figures of the
// long one stand in DEVELOPERS.md.
var (
	shops     = flag.Int("shops", 0, "simulated shops; 0: a few, at once")
	firstShop = flag.Uint64("first-shop", 1, "seed of the first one, the next ones follow")
	fewShops  = breadth.Few(1, 4)
)

func times() int {
	if *shops > 0 {
		return *shops
	}
	return fewShops
}

// A tallied figure is how often an interval held the truth.
type tallied struct{ n, held, under, over, bias, width float64 }

func (t *tallied) add(e stats.Estimate, truth float64) {
	if !e.Given() || math.IsNaN(truth) {
		return
	}
	t.n++
	switch {
	case truth < e.Low:
		t.under++
	case truth > e.High:
		t.over++
	default:
		t.held++
	}
	t.bias += e.Point - truth
	t.width += e.High - e.Low
}

func (t *tallied) merge(o tallied) {
	t.n, t.held, t.under, t.over, t.bias, t.width = t.n+o.n, t.held+o.held, t.under+o.under, t.over+o.over, t.bias+o.bias, t.width+o.width
}

func (t tallied) log(tt *testing.T, what string) {
	tt.Logf("%-48s %6.0f intervals, covered %.3f, truth under %.3f over %.3f, bias %+.4f, width %.4f", what, t.n, t.held/t.n, t.under/t.n, t.over/t.n, t.bias/t.n, t.width/t.n)
}

// blanked are the faults that are not judged on some forms: two by the clerk
// alone, three together where the form was not keyed.
var blanked = []string{"tape-marks-missing", "outline-doubled", "tape-zero-missed", "foot-girth-missing", "leg-height-missing"}

// blank makes faults unknown at random given what the books hold: by channel,
// measurer, month and outcome. Behind remakes many more are not judged.
func blank(c *cohort.Cohort, seed uint64) {
	rng := stats.Source(seed, 1)
	at := func(id string) []form.State { f, _ := form.FaultIndex(id); return c.Cut[f] }
	for i := range c.Shipped {
		eta := -2.4 + 0.3*float64(c.Channel.Code[i]-1) + 0.1*float64(c.Measurer.Code[i]) - 0.4*float64(i)/float64(c.Len())
		if c.Remade[i].Known() {
			eta += 2
		}
		for _, together := range [][]string{blanked[:1], blanked[1:2], blanked[2:]} {
			if rng.Float64() < stats.Logistic(eta) {
				for _, id := range together {
					if s := at(id); s[i] != form.NotAtRisk {
						s[i] = form.Unknown
					}
				}
			}
		}
	}
}

// Where forms are not judged at random given order, channel, measurer, month and
// outcome, the imputed intervals hold the truth as often as they say, and those
// of the complete cases do not; the worst case always holds the difference there
// would have been with every form judged.
func TestBlanksOnKnownTruth(t *testing.T) {
	n := times()
	complete, imputed := make([][]tallied, n), make([][]tallied, n)
	outside := make([]int, n)
	stats.Parallel(0, n, func(k int) {
		seed := *firstShop + uint64(k)
		c, truth := invented.Workshop{Orders: 3000, Intercept: -2.6, Idle: 100, Seed: seed}.Make()
		whole := remakes.Faults(t.Context(), c, remakes.Options{})
		c.Cut = slices.Clone(c.Cut)
		for f := range c.Cut {
			c.Cut[f] = slices.Clone(c.Cut[f])
		}
		blank(c, seed)
		table := remakes.Faults(t.Context(), c, remakes.Options{})
		b := Unjudged(t.Context(), c, table, UnjudgedOptions{Seed: seed, Workers: 1, imputations: fewestImputations})
		complete[k], imputed[k] = make([]tallied, len(blanked)), make([]tallied, len(blanked))
		for _, x := range b.Faults {
			f, _ := form.FaultIndex(x.Fault)
			j := slices.Index(blanked, x.Fault)
			if j < 0 {
				continue
			}
			complete[k][j].add(x.Complete, truth.Difference(f))
			imputed[k][j].add(x.Imputed, truth.Difference(f))
			if d := whole.Faults[f].RiskDifference.Point; !(float64(x.Bounds.Low) <= d && d <= float64(x.Bounds.High)) {
				outside[k]++
			}
		}
	})
	var all, cases tallied
	for j, id := range blanked {
		var a, b tallied
		for k := range n {
			a.merge(complete[k][j])
			b.merge(imputed[k][j])
		}
		a.log(t, id+", complete cases")
		b.log(t, id+", imputed")
		cases.merge(a)
		all.merge(b)
		if *shops >= 200 {
			assert.InDelta(t, 0.95, b.held/b.n, 0.02+2*math.Sqrt(0.95*0.05/b.n), id)
		}
	}
	cases.log(t, "all, complete cases")
	all.log(t, "all, imputed")
	assert.InDelta(t, 0.95, all.held/all.n, 0.02+3*math.Sqrt(0.95*0.05/all.n))
	assert.Less(t, cases.held/cases.n, all.held/all.n)
	for k, n := range outside {
		assert.Zero(t, n, "shop %d", k+1)
	}
}

// silence makes customers say nothing: half of those whose boots fit, and a
// share of those whose boots do not, so that the odds of a misfit among the
// silent are the factor times those of the others in like orders. What they keep
// to themselves is not in the book.
func silence(c *cohort.Cohort, factor float64, seed uint64) {
	rng := stats.Source(seed, 2)
	mute := factor / (1 + factor) // by Bayes' theorem, against one half
	for i := range c.Shipped {
		if c.Remade[i].Known() {
			c.Answered[i] = rng.Float64() >= mute
			if !c.Answered[i] {
				c.Remade[i] = cohort.NoDay
			}
			continue
		}
		c.Answered[i] = rng.Float64() < 0.5
	}
}

// At the factor that the silent were made with, share and effects hold the
// truth; as counted, they do not.
func TestSilenceOnKnownTruth(t *testing.T) {
	n := times()
	const factor = 1.5
	type shop struct{ share, effect [2]tallied }
	found := make([]shop, n)
	stats.Parallel(0, n, func(k int) {
		seed := *firstShop + uint64(k)
		c, truth := invented.Workshop{Orders: 3000, Intercept: -3.2, Idle: 100, Seed: seed}.Make()
		whole := *c
		c.Remade, c.Answered = slices.Clone(c.Remade), slices.Clone(c.Answered)
		silence(c, factor, seed)
		remade, mature, m := 0, 0, remakes.MatureAfter(c, 0)
		for i := range c.Shipped {
			if m.Is(c, i) {
				mature++
				if remakes.Event(&whole, i) {
					remade++
				}
			}
		}
		s := silentQuietly(t, c, []float64{factor}, []float64{0})
		for j := range 2 { // as counted, at the factor
			found[k].share[j].add(s.Shares[j].Estimate, float64(remade)/float64(mature))
			for f, x := range s.Faults {
				if form.Faults[f].Kind != form.Evident {
					found[k].effect[j].add(x.At[j].Estimate, truth.Difference(f))
				}
			}
		}
	})
	var all shop
	for _, s := range found {
		for j := range 2 {
			all.share[j].merge(s.share[j])
			all.effect[j].merge(s.effect[j])
		}
	}
	all.share[0].log(t, "remake share, as counted")
	all.share[1].log(t, "remake share, at the true factor")
	all.effect[0].log(t, "effects, as counted")
	all.effect[1].log(t, "effects, at the true factor")
	assert.Zero(t, all.share[0].held)
	assert.GreaterOrEqual(t, all.share[1].held/all.share[1].n, 0.93-3*math.Sqrt(0.95*0.05/all.share[1].n))
	// Effects of one shop go together; hence the shops in the error.
	assert.InDelta(t, 0.95, all.effect[1].held/all.effect[1].n, 0.02+3*math.Sqrt(0.95*0.05/float64(n)))
	assert.Less(t, all.effect[0].held/all.effect[0].n, all.effect[1].held/all.effect[1].n)
}

// silentQuietly is without rules.
func silentQuietly(t *testing.T, c *cohort.Cohort, factors, steps []float64) Silence {
	return Silent(t.Context(), c, remakes.Faults(t.Context(), c, remakes.Options{}), rules.Scorecard{}, nil, Options{Factors: factors, Workers: 1, faultsOnly: true, steps: steps})
}

// A fault that does nothing, but whose forms come from people who send word more
// often, goes with remakes as counted. Told with the factor with which the
// silent were made, 1, nothing is left: so the conclusion turns at a factor below
// it, but in the 2.5 % of shops in which chance alone would say "more".
func TestTippingOnKnownTruth(t *testing.T) {
	n := times()
	wrong, turned, counted, factors := make([]bool, n), make([]bool, n), make([]bool, n), make([]float64, n)
	stats.Parallel(0, n, func(k int) {
		seed := *firstShop + uint64(k)
		c, _ := invented.Workshop{Orders: 2000, Intercept: -2.6, Idle: 100, Seed: seed, Only: "none"}.Make()
		rng := stats.Source(seed, 3)
		f, _ := form.FaultIndex(invented.Inert)
		for i := range c.Shipped {
			quiet := 0.6
			if c.Cut[f][i] == form.With {
				quiet = 0.05
			}
			if c.Answered[i] = rng.Float64() >= quiet; !c.Answered[i] {
				c.Remade[i] = cohort.NoDay
			}
		}
		s := silentQuietly(t, c, []float64{1}, steps)
		x := s.Faults[f]
		counted[k] = sideOf(x.At[0].Estimate) == above
		turned[k], factors[k] = x.Turns.Turns, float64(x.Turns.Factor)
		wrong[k] = counted[k] && (!turned[k] || factors[k] > 1)
		if counted[k] && turned[k] && x.Turns.To == ofFault[around] { // it lies where the limit is nothing
			again := silentQuietly(t, c, []float64{factors[k]}, []float64{0})
			e := again.Faults[f].At[1].Estimate
			assert.InDelta(t, 0, e.Low, 0.03*(e.High-e.Low), "shop %d", seed)
		}
	})
	said, late, sum := 0, 0, 0.0
	for k := range n {
		if counted[k] {
			said++
			sum += factors[k]
		}
		if wrong[k] {
			late++
		}
	}
	t.Logf("goes with more remakes as counted in %d of %d shops; turns at %.2f on average; above 1 or never in %d", said, n, sum/float64(said), late)
	assert.Greater(t, 2*said, n)
	assert.LessOrEqual(t, float64(late)/float64(n), 0.025+3*math.Sqrt(0.025*0.975/float64(n)))
}
