package remakes

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/analysis/testdata/invented"
)

var (
	workshops = flag.Int("workshops", breadth.Few(4, 12), "workshops to simulate in TestAdjustedEffectsOnKnownTruth")
	firstOne  = flag.Int("first", 0, "number of the first simulated workshop: other workshops for another run")
	resamples = flag.Int("resamples", breadth.Few(40, 60), "bootstrap replicates of each simulated workshop")
)

// TestAdjustedEffectsOnKnownTruth holds the method, as shipped, against
// invented workshops of 3,000 orders whose truth is known: intervals must cover
// it, bias must be small against the standard error, a fault that does nothing
// but travels with one that does must not become a finding. The crude
// difference is held against the same truth to show that the task is not easy.
//
// go test -run KnownTruth -workshops=1000 -v ./analysis/remakes prints the table.
func TestAdjustedEffectsOnKnownTruth(t *testing.T) {
	invented.Long(t)
	const intercept = -3.1
	_, population := invented.Workshop{Orders: breadth.Few(30_000, 300_000), Intercept: intercept, Seed: 1 << 40}.Make()
	scores := make([]score, *workshops)
	var wg sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wg.Go(func() {
			for k := range next {
				c, _ := invented.Workshop{Orders: 3000, Intercept: intercept, Seed: uint64(*firstOne + k)}.Make()
				scores[k] = grade(Faults(context.Background(), c, Options{Replicates: *resamples, Seed: uint64(k), Workers: 1}), population)
			}
		})
	}
	for k := range *workshops {
		next <- k
	}
	close(next)
	wg.Wait()

	table, all := summary(scores, population)
	t.Log("\n" + table)
	exact := *workshops >= 1000
	within := func(loose, tight float64) float64 {
		if exact {
			return tight
		}
		return loose
	}
	// With few workshops three Monte Carlo errors are allowed: of a binomial share of one
	// fault's n intervals, and of all of them, which are a dozen a workshop.
	few := func(usual float64, n int) float64 {
		if *workshops >= 12 {
			return usual
		}
		return 3 * math.Sqrt(0.95*0.05/float64(n))
	}
	assert.InDelta(t, 0.95, all.cover, within(few(0.03, 12**workshops), 0.02), "share of all adjusted intervals that cover the truth")
	for f, s := range all.fault {
		if s.n < *workshops*3/4 {
			continue // too rare in many workshops: refused there
		}
		name := form.Faults[f].ID
		assert.InDelta(t, 0.95, s.cover, within(few(0.12, s.n), 0.02), "coverage, %s", name)
		assert.Less(t, math.Abs(s.bias), within(0.1+3/math.Sqrt(float64(s.n)), 0.1), "bias over standard error, %s", name)
	}
	assert.LessOrEqual(t, all.inertFound, within(max(0.125, 1/float64(*workshops)), 0.05), "the inert fault called a finding")
	assert.LessOrEqual(t, all.falseShare, FindingLevel, "false discovery share")
	// The crude comparison fails on the same workshops.
	assert.Less(t, all.crudeCover, 0.75, "share of all crude intervals that cover the truth")
	assert.Greater(t, all.crudeInert, 0.5, "the inert fault called a finding by the crude comparison")
}

// A score is one workshop's: per fault, adjusted and crude.
type score struct {
	given, crudeGiven   [13]bool
	error_, crudeError  [13]float64
	se                  [13]float64
	under, over         [13]bool // the truth lies under, over the interval
	covers, crudeCovers [13]bool
	found, crudeFound   [13]bool
	falseShare          float64
}

func grade(d FaultTable, population invented.Truth) score {
	var s score
	found, wrong := 0, 0
	for f, x := range d.Faults {
		want := population.Difference(f)
		if e := x.RiskDifference; e.Given() {
			s.crudeGiven[f], s.crudeError[f] = true, e.Point-want
			s.crudeCovers[f] = e.Low <= want && want <= e.High
			s.crudeFound[f] = e.Low > 0 && x.QValue <= FindingLevel
		}
		if e := x.AdjustedRD; e.Given() {
			s.given[f], s.error_[f], s.se[f] = true, e.Point-want, (e.High-e.Low)/3.92
			s.covers[f], s.found[f] = e.Low <= want && want <= e.High, x.Finding
			s.under[f], s.over[f] = want < e.Low, want > e.High
			if x.Finding {
				found++
				if invented.Effects[x.Fault] == 0 {
					wrong++
				}
			}
		}
	}
	if found > 0 {
		s.falseShare = float64(wrong) / float64(found)
	}
	return s
}

type faultScore struct {
	n                                 int
	cover, bias, se, found            float64
	under, over                       float64
	crudeN                            int
	crudeCover, crudeBias, crudeFound float64
}

type allScores struct {
	fault                                                 [13]faultScore
	cover, crudeCover, inertFound, crudeInert, falseShare float64
}

func summary(scores []score, population invented.Truth) (string, allScores) {
	var all allScores
	var out strings.Builder
	fmt.Fprintf(&out, "%-22s %7s | %5s %8s %6s %6s %8s %8s %6s | %8s %8s %6s\n", "fault", "truth", "n", "covered", "under", "over", "bias/se", "se/sd", "found", "covered", "bias/se", "found")
	n, covered, crudeN, crudeCovered := 0.0, 0.0, 0.0, 0.0
	for f := range all.fault {
		var x faultScore
		var sum, square, crude float64
		for _, s := range scores {
			if s.given[f] {
				x.n++
				sum, square, x.se = sum+s.error_[f], square+s.error_[f]*s.error_[f], x.se+s.se[f]
				x.cover, x.found = x.cover+one(s.covers[f]), x.found+one(s.found[f])
				x.under, x.over = x.under+one(s.under[f]), x.over+one(s.over[f])
			}
			if s.crudeGiven[f] {
				x.crudeN++
				crude += s.crudeError[f]
				x.crudeCover, x.crudeFound = x.crudeCover+one(s.crudeCovers[f]), x.crudeFound+one(s.crudeFound[f])
			}
		}
		if x.n == 0 {
			continue
		}
		k, ck := float64(x.n), float64(x.crudeN)
		n, covered, crudeN, crudeCovered = n+k, covered+x.cover, crudeN+ck, crudeCovered+x.crudeCover
		sd := math.Sqrt(square/k - sum/k*sum/k)
		x.cover, x.found, x.bias, x.se = x.cover/k, x.found/k, sum/k/sd, x.se/k/sd
		x.under, x.over = x.under/k, x.over/k
		x.crudeCover, x.crudeFound, x.crudeBias = x.crudeCover/ck, x.crudeFound/ck, crude/ck/sd
		all.fault[f] = x
		fmt.Fprintf(&out, "%-22s %7.4f | %5d %8.3f %6.3f %6.3f %+8.3f %8.3f %6.3f | %8.3f %+8.2f %6.3f\n", form.Faults[f].ID, population.Difference(f),
			x.n, x.cover, x.under, x.over, x.bias, x.se, x.found, x.crudeCover, x.crudeBias, x.crudeFound)
	}
	all.cover, all.crudeCover = covered/n, crudeCovered/crudeN
	f, _ := form.FaultIndex(invented.Inert)
	all.inertFound, all.crudeInert = all.fault[f].found, all.fault[f].crudeFound
	for _, s := range scores {
		all.falseShare += s.falseShare / float64(len(scores))
	}
	fmt.Fprintf(&out, "all: covered %.3f, crude %.3f; inert found %.3f, crude %.3f; false discovery share %.3f (%d workshops)\n",
		all.cover, all.crudeCover, all.inertFound, all.crudeInert, all.falseShare, len(scores))
	return out.String(), all
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// The same cohort gives the same bytes, however many workers share the work. With CI=true
// of 60 replicates, otherwise of 40.
func TestAdjustedEffectsAreReproducible(t *testing.T) {
	replicates := breadth.Few(40, 60)
	c, _ := invented.Workshop{Orders: 1500, Intercept: -2.8, Seed: 7}.Make()
	one := Faults(context.Background(), c, Options{Replicates: replicates, Seed: 3, Workers: 1})
	three := Faults(context.Background(), c, Options{Replicates: replicates, Seed: 3, Workers: 3})
	require.True(t, one.Faults[0].AdjustedRD.Bounded())
	a, err := json.Marshal(one)
	require.NoError(t, err)
	b, err := json.Marshal(three)
	require.NoError(t, err)
	assert.Equal(t, string(a), string(b))
	other := Faults(context.Background(), c, Options{Replicates: replicates, Seed: 4, Workers: 1})
	assert.NotEqual(t, one.Faults[0].AdjustedRD.Low, other.Faults[0].AdjustedRD.Low, "another seed")
	assert.Equal(t, one.Faults[0].AdjustedRD.Point, other.Faults[0].AdjustedRD.Point, "the point does not depend on the seed")
}
