package practice

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
)

// answered is what a learner says of a set who sees each planted fault with the
// chance sees gives it, and points at nothing else.
func answered(t *testing.T, r *rand.Rand, p Plan, sees func(fault string) float64) (out []Seen) {
	t.Helper()
	s, err := p.Set()
	require.NoError(t, err)
	for _, f := range s.Forms {
		a := Answer{Form: f.ID, Verdict: Cut}
		for _, id := range f.Faults() {
			if r.Float64() < sees(id) {
				a.Faults = append(a.Faults, id)
				a.Verdict = f.Right()
			}
		}
		one, err := s.See(a)
		require.NoError(t, err)
		out = append(out, one)
	}
	return out
}

// TestMoreOfWhatIsMissed: after one round of 20 forms the next set has the fault
// that a learner is blind to more often than any other, and each other still.
func TestMoreOfWhatIsMissed(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 1))
	for k, blind := range form.Faults {
		plan := Plan{Seed: uint64(k), Forms: 20}
		round := answered(t, r, plan, func(id string) float64 { return map[bool]float64{true: 0, false: 1}[id == blind.ID] })
		chances := Outlook([][][]Seen{{round}}, 0)
		for i, c := range chances {
			if i != k {
				assert.Greater(t, c.Finds.Point, chances[k].Finds.Point, "%s, blind to %s", c.Fault, blind.ID)
			}
		}
		next, err := Plan{Seed: 99, Forms: 40, Weights: Weights(chances)}.Set()
		require.NoError(t, err)
		planted := map[string]int{}
		for _, f := range next.Forms {
			for _, id := range f.Faults() {
				planted[id]++
			}
		}
		for _, other := range form.Faults {
			assert.Positive(t, planted[other.ID], "%s, blind to %s", other.ID, blind.ID)
			if other.ID != blind.ID {
				assert.Greater(t, planted[blind.ID], planted[other.ID], "%s against %s", blind.ID, other.ID)
			}
		}
	}
}

// TestChancesKnownTruth: learners of known ability, difficulties and weaknesses
// drawn from the penalties' own spreads; the chances' 95 % intervals hold the
// truth in 92 of 100 (a normal curve on the logit is a little narrow where a fault was
// met six times), and they are right on average. With CI=true 20 classes of six, otherwise 5.
func TestChancesKnownTruth(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 15))
	in, all, off := 0, 0, 0.0
	for class := range breadth.Few(5, 20) {
		const learners = 6
		truth := make([]map[string]float64, learners)
		difficulty := make([]float64, len(form.Faults))
		for k := range difficulty {
			difficulty[k] = spreadSD * r.NormFloat64()
		}
		rounds := make([][][]Seen, learners)
		for i := range rounds {
			ability := spreadSD * r.NormFloat64()
			truth[i] = map[string]float64{}
			for k, f := range form.Faults {
				truth[i][f.ID] = stats.Logistic(ability - difficulty[k] + ownSD*r.NormFloat64())
			}
			rounds[i] = [][]Seen{answered(t, r, Plan{Seed: uint64(class*learners + i), Forms: 60}, func(id string) float64 { return truth[i][id] })}
		}
		for i := range rounds {
			for _, c := range Outlook(rounds, i) {
				in += count(c.Finds.Low <= truth[i][c.Fault] && truth[i][c.Fault] <= c.Finds.High)
				off += c.Finds.Point - truth[i][c.Fault]
				all++
			}
		}
	}
	t.Logf("covered %.3f of %d chances, bias %+.3f", float64(in)/float64(all), all, off/float64(all))
	assert.Greater(t, float64(in)/float64(all), 0.9)
	assert.InDelta(t, 0, off/float64(all), 0.02)
}

// TestLaterAnswersCountMore: who missed a fault and now finds it is told so.
func TestLaterAnswersCountMore(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	sees := func(yes float64) func(string) float64 {
		return func(id string) float64 { return map[bool]float64{true: yes, false: 1}[id == "outline-broken"] }
	}
	was := answered(t, r, Plan{Seed: 1, Forms: 40}, sees(0))
	is := answered(t, r, Plan{Seed: 2, Forms: 40}, sees(1))
	better, worse := Outlook([][][]Seen{{was, is}}, 0)[1].Finds, Outlook([][][]Seen{{is, was}}, 0)[1].Finds
	assert.Greater(t, better.Point, worse.Point)
	assert.Equal(t, better.N, worse.N)
}

// TestDeparture: one learner, one fault, found x of n. Everything that is penalised
// moves by its own variance times the rest x - n·p, so that the logit solves
// rest·(2·spreadSD² + ownSD²): derived by hand. Its variance, where these three normals
// have a common likelihood of weight w, is 1/(w + 1/(their variances' sum)).
func TestDeparture(t *testing.T) {
	f := fitRasch([][]float64{{2}}, [][]float64{{9}}, spreadSD, ownSD)
	require.NotNil(t, f)
	logit, se := f.at(0, 0)
	p := stats.Logistic(logit)
	total := 2*spreadSD*spreadSD + ownSD*ownSD
	assert.InDelta(t, (2-9*p)*total, logit, 1e-7)
	assert.InDelta(t, 1/math.Sqrt(9*p*(1-p)+1/total), se, 1e-7)
	none := Outlook([][][]Seen{nil}, 0)
	assert.NotEmpty(t, none[0].Finds.Warnings)
	assert.InDelta(t, 0.5, none[0].Finds.Point, 1e-9)
}

// TestTracingsShowWhatIsWrong: a broken outline has a gap that an eye sees, a
// doubled one a second line, missing marks are not drawn, and nothing else is wrong.
func TestTracingsShowWhatIsWrong(t *testing.T) {
	for seed := range uint64(15) {
		for _, f := range set(t, seed, 20).Forms {
			require.Len(t, f.Tracings, 2)
			for i, tr := range f.Tracings {
				assert.Equal(t, form.Sides[i], tr.Side)
				side := tr.Side.String()
				first := tr.Outline[0]
				gap := math.Hypot(first[0].X-first[len(first)-1].X, first[0].Y-first[len(first)-1].Y)
				if f.wrong("outline_closed_" + side) {
					assert.Greater(t, gap, 8.0, f.ID)
				} else {
					assert.Less(t, gap, 0.01, f.ID)
				}
				lines, marks := 1, 4
				if f.wrong("outline_single_" + side) {
					lines = 2
				}
				for _, m := range []string{"ball_mark_", "instep_mark_"} {
					if f.wrong(m + side) {
						marks -= 2
					}
				}
				assert.Len(t, tr.Outline, lines, f.ID)
				assert.Len(t, tr.Marks, marks, f.ID)
				at := map[string]bool{}
				for _, c := range f.Circles(tr.Side) {
					at[c.Fault] = true
					assert.Contains(t, f.Faults(), c.Fault)
				}
				assert.Equal(t, lines == 2, at["outline-doubled"])
				assert.Equal(t, marks < 4, at["tape-marks-missing"])
				for _, s := range append(tr.Outline, tr.Marks...) {
					for _, d := range s {
						assert.False(t, math.Abs(d.X) > 90 || d.Y < -15 || d.Y > 345, "%s: %v", f.ID, d)
					}
				}
			}
		}
	}
}

// TestTruthNamesPlaces: what was changed or left out is named, and each fault has
// words to ask with.
func TestTruthNamesPlaces(t *testing.T) {
	for seed := range uint64(10) {
		for _, f := range set(t, seed, 20).Forms {
			for _, tr := range f.Truth() {
				assert.NotEmpty(t, tr.Ask, tr.Fault.ID)
				assert.NotEmpty(t, tr.Why, tr.Fault.ID)
				assert.Equal(t, tr.Fault.Kind == form.Noted, len(tr.Columns) > 0, tr.Fault.ID)
				assert.Equal(t, tr.Fault.Kind != form.Noted, len(tr.Places) > 0, tr.Fault.ID)
				for _, p := range tr.Places {
					has := slices.ContainsFunc(f.Numbers, func(n form.Number) bool { return n.Place == p })
					assert.Equal(t, tr.Fault.Kind == form.Evident, has, "%s %s", tr.Fault.ID, p.Name())
				}
			}
		}
	}
}
