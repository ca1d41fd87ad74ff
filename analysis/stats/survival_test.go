package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func spells(times, codes []float64) []Spell {
	out := make([]Spell, len(times))
	for i := range times {
		out[i] = Spell{times[i], int(codes[i]), 1}
	}
	return out
}

// byGroup splits spells by a column of words.
func byGroup(all []Spell, group []string, word string) (out []Spell) {
	for i, s := range all {
		if group[i] == word {
			out = append(out, s)
		}
	}
	return out
}

// Freireich EJ et al. (1963) Blood 21:699-716, 6-MP arm, as Table 4.1B of
// Klein and Moeschberger (2003); digits of R survival 3.5.3.
func TestKaplanMeier6MP(t *testing.T) {
	s := example(t, "gehan_6mp.csv")
	all := spells(s.nums(t, "weeks"), s.nums(t, "relapse"))
	c := KaplanMeier(byGroup(all, s["arm"], "6-MP"), 0.95)
	rows := []struct{ week, atRisk, s, se, low, high float64 }{
		{6, 21, 0.857142857, 0.0763603548, 0.619717955, 0.951551748},
		{7, 17, 0.806722689, 0.0869352852, 0.563146565, 0.922809019},
		{10, 15, 0.752941176, 0.0963496530, 0.503199511, 0.889361835},
		{13, 12, 0.690196078, 0.1068147078, 0.431610222, 0.849065963},
		{16, 11, 0.627450980, 0.1140538653, 0.367510856, 0.804912189},
		{22, 7, 0.537815126, 0.1282337517, 0.267778937, 0.746790718},
		{23, 6, 0.448179272, 0.1345914568, 0.188052006, 0.680142628},
	}
	k := 0
	for i, time := range c.Time {
		if c.Events[i] == 0 {
			continue
		}
		w := rows[k]
		assert.Equal(t, w.week, time)
		assert.Equal(t, w.atRisk, c.AtRisk[i])
		assert.InDelta(t, w.se, c.SE[i], nine)
		checkEstimate(t, c.At(time), w.s, w.low, w.high, nine)
		checkEstimate(t, c.ShareBy(time), 1-w.s, 1-w.high, 1-w.low, nine)
		k++
	}
	assert.Equal(t, len(rows), k)
	test, _, expected := LogRank(byGroup(all, s["arm"], "6-MP"), byGroup(all, s["arm"], "control"))
	assert.InDelta(t, 16.792941, test.Statistic, six)
	assert.Equal(t, 1, test.DF)
	assert.InDelta(t, 19.2505009, expected[0], 1e-7)
	assert.InDelta(t, 10.7494991, expected[1], 1e-7)
}

// Miller RG (1997) Survival Analysis, acute myelogenous leukemia, as R's aml;
// digits of R survival 3.5.3.
func TestKaplanMeierAML(t *testing.T) {
	s := example(t, "aml.csv")
	all := spells(s.nums(t, "weeks"), s.nums(t, "status"))
	kept, not := byGroup(all, s["arm"], "Maintained"), byGroup(all, s["arm"], "Nonmaintained")
	c := KaplanMeier(kept, 0.95)
	for time, want := range map[float64]float64{9: 0.9090909091, 13: 0.8181818182, 18: 0.7159090909, 23: 0.6136363636, 31: 0.4909090909, 34: 0.3681818182, 48: 0.1840909091} {
		assert.InDelta(t, want, c.At(time).Point, nine)
	}
	m := c.Median()
	assert.Equal(t, []float64{31, 13}, []float64{m.Point, m.Low})
	assert.True(t, math.IsNaN(m.High), "the upper limit is not reached")
	c = KaplanMeier(not, 0.95)
	m = c.Median()
	assert.Equal(t, []float64{23, 5, 33}, []float64{m.Point, m.Low, m.High})
	end := c.At(45)
	assert.Zero(t, end.Point)
	assert.False(t, end.Bounded())
	test, _, _ := LogRank(kept, not)
	assert.InDelta(t, 3.3963887, test.Statistic, 5e-8)
}

// Worked by hand: times 1,2,2,3,4,5,5,6,7,8 with 1 = remake, 2 = refund; the
// standard errors are R survival 3.5.3's.
func TestAalenJohansenByHand(t *testing.T) {
	c := AalenJohansen(spells(
		[]float64{1, 2, 2, 3, 4, 5, 5, 6, 7, 8},
		[]float64{1, 2, 0, 1, 2, 1, 0, 0, 2, 0}), 2, 0.95)
	rows := map[float64][5]float64{ // event-free, remake, refund, their SEs
		1: {0.9, 0.1, 0, 0.0948683298, 0},
		2: {0.8, 0.1, 0.1, 0.0948683298, 0.0948683298},
		3: {24.0 / 35, 0.2142857142857143, 0.1, 0.1350412959, 0.0948683298},
		4: {4.0 / 7, 0.2142857142857143, 0.2142857142857143, 0.1350412959, 0.1350412959},
		5: {16.0 / 35, 0.3285714285714286, 0.2142857142857143, 0.1561844615, 0.1350412959},
		7: {8.0 / 35, 0.3285714285714286, 0.4428571428571429, 0.1561844615, 0.2013294010},
	}
	for i, time := range c.Time {
		assert.InDelta(t, 1, c.EventFree[i]+c.Share[0][i]+c.Share[1][i], 1e-15)
		w, ok := rows[time]
		if !ok {
			continue
		}
		got := [5]float64{c.EventFree[i], c.Share[0][i], c.Share[1][i], c.SE[0][i], c.SE[1][i]}
		assert.InDeltaSlice(t, w[:], got[:], 1e-10, "after %v", time)
	}
}

// Monoclonal gammopathy (R survival, mgus2): 115 progressions, 860 deaths
// first. Restricted means as printed in R survival's vignette "Multi-state
// models and competing risks"; incidences and standard errors of its survfit.
func TestAalenJohansenMGUS2(t *testing.T) {
	s := example(t, "mgus2_competing.csv")
	all := spells(s.nums(t, "months"), s.nums(t, "event"))
	c := AalenJohansen(all, 2, 0.95)
	for _, w := range []struct{ t, pcm, death, se float64 }{
		{60, 0.0341037130, 0.320367010, 0.00488925791},
		{120, 0.0637221680, 0.531817704, 0.00679684842},
		{240, 0.0998137159, 0.724027976, 0.00978484679},
	} {
		e := c.At(1, w.t)
		assert.InDelta(t, w.pcm, e.Point, nine)
		assert.InDelta(t, w.death, c.At(2, w.t).Point, nine)
		require.True(t, e.Bounded())
		i := 0
		for i < len(c.Time) && c.Time[i] <= w.t {
			i++
		}
		assert.InDelta(t, w.se, c.SE[0][i-1], nine)
	}
	// The wrong way: the other cause taken for censoring.
	wrong := make([]Spell, len(all))
	for i, sp := range all {
		wrong[i] = sp
		if sp.Code == 2 {
			wrong[i].Code = 0
		}
	}
	km := KaplanMeier(wrong, 0.95)
	assert.InDelta(t, 0.0952216594, km.ShareBy(120).Point, nine)
	assert.InDelta(t, 0.209561624, km.ShareBy(240).Point, nine)
	assert.Greater(t, km.ShareBy(240).Point, 2*c.At(1, 240).Point, "1-KM must not pass for an incidence")
}

// Grouping changes nothing but the work.
func TestGroupSpells(t *testing.T) {
	days := []int32{3, 1, 3, 3, 0, 7, 1, 3}
	codes := []uint8{1, 0, 0, 1, 0, 2, 1, 0}
	var one []Spell
	for i, d := range days {
		one = append(one, Spell{float64(d), int(codes[i]), 1})
	}
	grouped := GroupSpells(days, codes)
	assert.Len(t, grouped, 6)
	assert.Equal(t, AalenJohansen(one, 2, 0.95), AalenJohansen(grouped, 2, 0.95))
	a, b := KaplanMeier(one, 0.95), KaplanMeier(grouped, 0.95)
	assert.Equal(t, a.Survival, b.Survival)
	assert.Equal(t, a.SE[:3], b.SE[:3])
	assert.Nil(t, GroupSpells(days, codes[:2]))
	far := GroupSpells([]int32{5, 2_000_000_000}, []uint8{1, 0})
	assert.Len(t, far, 2)
}

func TestSurvivalWithoutData(t *testing.T) {
	assert.False(t, KaplanMeier(nil, 0.95).At(10).Given())
	assert.False(t, AalenJohansen(nil, 2, 0.95).At(1, 10).Given())
	test, _, _ := LogRank(nil, nil)
	assert.True(t, math.IsNaN(test.P))
	c := KaplanMeier([]Spell{{10, 0, 5}}, 0.95)
	e := c.ShareBy(5)
	assert.Zero(t, e.Point)
	assert.False(t, e.Bounded())
	assert.False(t, c.At(11).Given(), "later than anybody was followed")
}

// BenchmarkKaplanMeier groups a million orders by day and draws the curve.
func BenchmarkKaplanMeier(b *testing.B) {
	days, codes := make([]int32, 1_000_000), make([]uint8, 1_000_000)
	rng := Source(1, 0)
	for i := range days {
		days[i] = int32(rng.IntN(366))
		if rng.IntN(12) == 0 {
			codes[i] = 1
		}
	}
	for b.Loop() {
		KaplanMeier(GroupSpells(days, codes), 0.95)
	}
}

// Half of two, exactly, is the median (Brookmeyer and Crowley 1982: the first time at which 1/2 or less is left).
func TestMedianOfTwo(t *testing.T) {
	assert.Equal(t, 3.0, KaplanMeier([]Spell{{3, 1, 1}, {7, 1, 1}}, 0.95).Median().Point)
}
