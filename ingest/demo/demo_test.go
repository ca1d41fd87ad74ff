package demo

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
)

// read gives a sheet's rows as maps by column.
func read(t *testing.T, dir, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, name+".csv"))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, c := range all[0] {
			m[c] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

func write(t *testing.T, o Options) (string, Truth) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "sheets")
	truth, err := Write(dir, o)
	require.NoError(t, err)
	return dir, truth
}

var names = []string{"orders", "forms", "measurements", "outcomes", "callbacks", "measurers", "repeats", "costs"}

func TestSameSeedSameBytes(t *testing.T) {
	a, truthA := write(t, Options{Seed: 7, Orders: 300})
	b, truthB := write(t, Options{Seed: 7, Orders: 300})
	c, _ := write(t, Options{Seed: 8, Orders: 300})
	require.Equal(t, truthA, truthB)
	for _, n := range names {
		x, err := os.ReadFile(filepath.Join(a, n+".csv"))
		require.NoError(t, err)
		y, err := os.ReadFile(filepath.Join(b, n+".csv"))
		require.NoError(t, err)
		require.Equal(t, string(x), string(y), n)
		if n == "orders" || n == "measurements" {
			z, err := os.ReadFile(filepath.Join(c, n+".csv"))
			require.NoError(t, err)
			require.NotEqual(t, string(x), string(z), n)
		}
	}
}

func TestKeysHoldTogether(t *testing.T) {
	dir, truth := write(t, Options{Seed: 1})
	orders, forms := map[string]map[string]string{}, map[string]string{}
	var fresh, shipped int
	for _, o := range read(t, dir, "orders") {
		require.Nil(t, orders[o["order_id"]], o["order_id"])
		orders[o["order_id"]] = o
		if o["remake_of_order_id"] != "" {
			require.NotNil(t, orders[o["remake_of_order_id"]], o["order_id"])
			continue
		}
		fresh++
		if o["shipped_on"] != "" {
			shipped++
		}
		if e := o["earlier_order_id"]; e != "" {
			require.Equal(t, orders[e]["customer_id"], o["customer_id"])
			require.Less(t, orders[e]["received_on"], o["received_on"])
		}
	}
	require.Equal(t, 1500, fresh)
	require.Equal(t, truth.Shipped, shipped)
	cut := map[string]int{}
	for _, f := range read(t, dir, "forms") {
		require.Empty(t, forms[f["form_id"]], f["form_id"])
		require.NotNil(t, orders[f["order_id"]], f["form_id"])
		forms[f["form_id"]] = f["order_id"]
		if f["cut_from"] == "yes" {
			cut[f["order_id"]]++
			require.Equal(t, 1, cut[f["order_id"]], "cut from two forms: %s", f["order_id"])
			require.NotEmpty(t, orders[f["order_id"]]["cut_on"])
		}
	}
	for _, m := range read(t, dir, "measurements") {
		require.NotEmpty(t, forms[m["form_id"]], m["form_id"])
	}
	for _, c := range read(t, dir, "callbacks") {
		require.NotEmpty(t, forms[c["form_id"]], c["form_id"])
	}
	for _, x := range read(t, dir, "outcomes") {
		require.Greater(t, x["reported_on"], orders[x["order_id"]]["shipped_on"])
	}
}

func TestNothingAfterTheDayOfTheExtract(t *testing.T) {
	dir, _ := write(t, Options{Seed: 3, Orders: 400})
	newest := ""
	for _, n := range names {
		for _, row := range read(t, dir, n) {
			for _, c := range []string{"received_on", "cut_on", "shipped_on", "reported_on", "called_on", "resolved_on"} {
				newest = max(newest, row[c])
			}
		}
	}
	require.Equal(t, "2026-10-30", newest, "the newest day in the sheets is the day of the extract")
}

// A later extract of the same workshop holds all that the earlier one held,
// and the outcomes that came in between.
func TestLaterExtract(t *testing.T) {
	early, truth := write(t, Options{Seed: 3, Orders: 400})
	late, whole := write(t, Options{Seed: 3, Orders: 400, AsOf: AsOf + 1500})
	require.Zero(t, whole.Late)
	require.Positive(t, truth.Late)
	require.Greater(t, whole.Shipped, truth.Shipped)
	all := map[string]bool{}
	for _, x := range read(t, late, "outcomes") {
		all[x["order_id"]+x["reported_on"]+x["result"]] = true
	}
	before := read(t, early, "outcomes")
	require.Greater(t, len(all), len(before))
	for _, x := range before {
		require.Contains(t, all, x["order_id"]+x["reported_on"]+x["result"])
	}
}

// The number of remakes agrees with the chances it was drawn from: within four
// standard deviations (binomial, at most sqrt(expected)); with CI=true of four times as
// many.
func TestRemakesFollowTheirChances(t *testing.T) {
	_, truth := write(t, Options{Seed: 5, Orders: breadth.Few(5000, 20000), AsOf: AsOf + 1500})
	// A return for the money that comes first takes some of the remakes away.
	require.InDelta(t, truth.Expected, float64(truth.Remakes), 4*math.Sqrt(truth.Expected)+0.013*truth.Expected)
	share := truth.Expected / float64(truth.Shipped)
	require.True(t, share > 0.07 && share < 0.11, "share %v", share)
}

// The effect of a fault, estimated from the latent draws by the odds ratio
// among orders alike in all else that matters, is the effect that was put in.
func TestEffectsAreInTheOutcomes(t *testing.T) {
	o, err := Options{Seed: 11, Orders: 1}.withDefaults()
	require.NoError(t, err)
	w := &workshop{Options: o, truth: newTruth(), staff: newStaff(o)}
	var remade, chances, risky float64
	for i := 1; i <= 12000; i++ {
		r := w.random(streamOrder, i)
		x := w.newOrder(r, i, firstDay+300, customer{no: i})
		w.measure(r, x)
		w.make(r, x)
		w.live(r, x)
		if !x.cutForm().faults[tapeZero] {
			continue
		}
		risky++
		chances += logistic(x.mix() + rest(x) + effects[tapeZero])
		if x.remade.Known() {
			remade++
		}
	}
	require.Greater(t, risky, 250.0)
	require.InDelta(t, chances, remade, 4*math.Sqrt(chances))
}

// rest is what all faults but the tape's start add.
func rest(o *order) (x float64) {
	for f, e := range effects {
		if f != tapeZero && o.cutForm().faults[f] {
			x += e
		}
	}
	return x
}

func TestRuleComesIntoForce(t *testing.T) {
	dir, truth := write(t, Options{Seed: 2, Orders: 6000})
	calls := map[bool]int{}
	for _, c := range read(t, dir, "callbacks") {
		calls[c["called_on"] >= ruleFrom.String()]++
	}
	require.Greater(t, calls[true], 4*calls[false], "call-backs are rare before the rule")
	require.Greater(t, truth.Mended, truth.CalledBack*7/10)
	require.Less(t, truth.Mended, truth.CalledBack)
}

func TestFaultsMatchTheCatalogue(t *testing.T) {
	require.Len(t, form.Faults, nFaults)
	for k, id := range map[int]string{
		tapeMarks: "tape-marks-missing", outlineBroken: "outline-broken", outlineDoubled: "outline-doubled", tapeZero: "tape-zero-missed",
		tapeZeroShown: "tape-zero-shown", footGirth: "foot-girth-missing", legHeight: "leg-height-missing", tuckedSkipped: "tucked-set-skipped",
		selfMeasured: "self-measured", sidesCopied: "sides-copied", unitMixed: "unit-mixed", implausible: "value-implausible",
		orthoticSilent: "orthotic-undiscussed",
	} {
		require.Equal(t, id, form.Faults[k].ID)
	}
}

func TestCalendarDealsAll(t *testing.T) {
	for _, n := range []int{1, 2, 50, 1500, 40000} {
		sum, last := 0, cohort.NoDay
		for d, k := range calendar(n) {
			require.Positive(t, k)
			sum, last = sum+k, d
		}
		require.Equal(t, n, sum)
		require.Equal(t, AsOf, last)
	}
}

func TestNoPlaceToWrite(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o666))
	_, err := Write(file, Options{Orders: 5})
	require.Error(t, err)
	_, err = Write(t.TempDir(), Options{Orders: -1})
	require.ErrorContains(t, err, "at least one order")
}

func BenchmarkWrite(b *testing.B) {
	dir := b.TempDir()
	for b.Loop() {
		if _, err := Write(dir, Options{Seed: 1, Orders: 10000}); err != nil {
			b.Fatal(err)
		}
	}
}
