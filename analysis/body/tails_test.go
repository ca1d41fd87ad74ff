package body

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

var update = flag.Bool("update", false, "rewrite tables/ by simulation")

// tableKeys are the rows of tables/tails.csv: the sets of measures that forms
// commonly hold, both sides or one, at the common reading steps.
func tableKeys() (keys []tailKey) {
	for _, sex := range []form.Sex{form.Female, form.Male, form.SexUnknown} {
		for _, step := range []int{0, 1, 3} {
			for _, sides := range []int{2, 1} {
				for mask := 1; mask < 1<<human.FeatureCount; mask++ {
					tracing := mask&(1<<human.AtLength) != 0 || mask&(1<<human.AtBreadth) == 0 // breadth only with length
					if tracing {
						keys = append(keys, tailKey{sex, step, sides, mask})
					}
				}
			}
		}
	}
	return keys
}

func (k tailKey) spec() layoutSpec {
	s := layoutSpec{sex: k.sex, step: k.step}
	for i := range human.CoreCount {
		if k.mask&(1<<(i%human.FeatureCount)) != 0 && (k.sides == 2 || i >= human.FeatureCount) {
			s.codes = append(s.codes, uint32(i))
		}
	}
	return s
}

func tailRow(t testing.TB, m *Model, k tailKey) string {
	draws := 20_000
	if k.mask == 1<<human.FeatureCount-1 && k.step == 0 {
		draws = 100_000
	}
	lay, ok := m.newLayout(k.spec())
	require.True(t, ok)
	score, spread := m.simulateTails(k.spec(), lay, draws)
	var b strings.Builder
	fmt.Fprintf(&b, "%d,%d,%d,%d", k.sex, k.step, k.sides, k.mask)
	for _, x := range append(score.at[:], spread.at[:]...) {
		fmt.Fprintf(&b, ",%.3f", x)
	}
	return b.String()
}

// TestTailTable draws some rows of the shipped table again, with their seeds: with CI=true
// five, otherwise two.
// go test ./analysis/body -run TailTable -update draws them all (minutes).
func TestTailTable(t *testing.T) {
	m := NewModel(form.Scheme{})
	keys := tableKeys()
	if *update {
		var b strings.Builder
		fmt.Fprintln(&b, "# Upper tails among simulated good forms (no person's row): scores that 50, 20, 5, 1, 0.2 % reach; alarm score, then range score.")
		fmt.Fprintln(&b, "# step: index into steps (1 mm, 1/8 in, 5 mm, 1/4 in, …); mask: bits length breadth ball heel ankle calf.")
		fmt.Fprintln(&b, "# Made by: go test ./analysis/body -run TailTable -update")
		fmt.Fprintln(&b, "sex,step,sides,mask,a50,a20,a5,a1,a02,r50,r20,r5,r1,r02")
		rows := make([]string, len(keys))
		var workers sync.WaitGroup
		for w := range runtime.GOMAXPROCS(0) {
			workers.Go(func() {
				for i := w; i < len(keys); i += runtime.GOMAXPROCS(0) {
					rows[i] = tailRow(t, m, keys[i])
				}
			})
		}
		workers.Wait()
		fmt.Fprintln(&b, strings.Join(rows, "\n"))
		require.NoError(t, os.WriteFile("tables/tails.csv", []byte(b.String()), 0o644))
		return
	}
	require.Len(t, shippedTails(), len(keys))
	for i := 17; i < len(keys); i += len(keys) / breadth.Few(2, 5) {
		require.Contains(t, tailsCSV, tailRow(t, m, keys[i])+"\n")
	}
}

// TestTailsBetweenRows: without the left heel a man's form in 5 mm has the middle of two rows of
// 1/4 in, with a heel and without one; and where a foot is missing that foot's row alone.
func TestTailsBetweenRows(t *testing.T) {
	const every, heel = 1<<human.FeatureCount - 1, 1 << human.AtHeel
	s := layoutSpec{sex: form.Male, step: 2}
	for i := range uint32(human.CoreCount) {
		if i != human.AtHeel {
			s.codes = append(s.codes, i)
		}
	}
	near, ok := nearTails(s)
	require.True(t, ok)
	rows := shippedTails()
	with, without := rows[tailKey{form.Male, 3, 2, every}], rows[tailKey{form.Male, 3, 2, every &^ heel}]
	for k := range near {
		for i, at := range near[k].at {
			require.InDelta(t, with[k].at[i]+(without[k].at[i]-with[k].at[i])/2, at, 1e-12)
		}
	}
	s.codes = slices.DeleteFunc(s.codes, func(i uint32) bool { return i < human.FeatureCount })
	near, ok = nearTails(s)
	require.True(t, ok)
	require.Equal(t, rows[tailKey{form.Male, 3, 1, every}], near)
}

// TestNearTails: sets of numbers that no row holds, as when a number of one
// foot is missing, keep near the chosen false-alarm share. With CI=true six sets, otherwise
// the one with the most numbers missing: how the rows are put together is
// TestTailsBetweenRows's.
func TestNearTails(t *testing.T) {
	m := NewModel(form.Scheme{})
	sets := [][]uint32{{human.AtHeel}, {human.FeatureCount + human.AtAnkle, human.AtCalf}, {human.AtLength, human.AtBreadth, human.FeatureCount + human.AtCalf}, {human.AtHeel, human.AtAnkle, human.AtCalf}, {human.AtBall}, {human.AtBall, human.FeatureCount + human.AtBall, human.AtCalf}}
	if !breadth.Wide() {
		sets = sets[5:]
	}
	for _, missing := range sets {
		for _, step := range []int{0, 2} {
			s := layoutSpec{sex: form.Male, step: step}
			for i := range uint32(human.CoreCount) {
				if !slices.Contains(missing, i) {
					s.codes = append(s.codes, i)
				}
			}
			near, ok := nearTails(s)
			require.True(t, ok)
			lay, ok := m.newLayout(s)
			require.True(t, ok)
			score, spread := m.simulateTails(s, lay, 20_000)
			// What share of good forms reaches the borrowed 1 % limit.
			require.InDelta(t, 2, score.odd(near[0].at[3]), 0.22, "missing %v", missing)
			require.InDelta(t, 2, spread.odd(near[1].at[3]), 0.22, "missing %v", missing)
		}
	}
}
