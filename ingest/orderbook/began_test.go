package orderbook

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
	"lastroom/analysis/testdata/breadth"
)

var midwayShops = flag.Int("midway", 0, "simulated books of each kind in TestBooksThatBeginMidway; 0: 6, with CI=true")

// A ledger is an invented shop's orders over four years, 400 a year: 9 in 100 remade
// and 6 adjusted, 20 to 130 days after shipping, which is 20 to 60 days after receipt.
// written says which orders are in the book.
func ledger(seed int, written func(received, shipped cohort.Day, complained bool) bool) (orders, outcomes string) {
	rng := stats.Source(79, seed)
	var o, r []string
	for i := range 1600 {
		received := cohort.Day(19000 + i*4*365/1600)
		shipped := received + cohort.Day(20+rng.IntN(41))
		result := ""
		switch u := rng.Float64(); {
		case u < 0.09:
			result = "remade"
		case u < 0.15:
			result = "adjusted"
		case u < 0.40:
			result = "kept"
		}
		reported := shipped + cohort.Day(20+rng.IntN(111))
		if !written(received, shipped, result == "remade" || result == "adjusted") {
			continue
		}
		o = append(o, fmt.Sprintf("('o%d', DATE '%s', DATE '%s', 1)", i, received, shipped))
		if result != "" {
			r = append(r, fmt.Sprintf("('o%d', DATE '%s', '%s', 1)", i, reported, result))
		}
	}
	return "INSERT INTO orders (order_id, received_on, shipped_on, load_id) VALUES " + strings.Join(o, ","),
		"INSERT INTO outcomes (order_id, reported_on, result, load_id) VALUES " + strings.Join(r, ",")
}

// A book that began two years ago, into which the complaints about older orders were
// written, says far too high a share of remakes if all its orders are taken; without
// those from before it began the interval holds the truth as often as it says. The day
// is found whether the shop began with the orders it received or with those it shipped;
// in a book that is whole there is none.
//
//	go test ./ingest/orderbook -run BeginMidway -midway=500 -v
func TestBooksThatBeginMidway(t *testing.T) {
	shops := *midwayShops
	if shops == 0 {
		breadth.Leave(t, "TestWhenTheBookBegan finds the day in one such book and leaves out what came before")
		shops = 6
	}
	const begins, truth = cohort.Day(19000 + 2*365), 0.09
	db := handmade(t)
	r := readerAt(t, db, (begins + 3*365).String())
	ctx := context.Background()
	for _, kind := range []struct {
		name    string
		written func(received, shipped cohort.Day, complained bool) bool
		midway  bool
	}{
		{"whole", func(_, _ cohort.Day, _ bool) bool { return true }, false},
		{"from the orders received then", func(received, _ cohort.Day, complained bool) bool { return received >= begins || complained }, true},
		{"from the orders shipped then", func(_, shipped cohort.Day, complained bool) bool { return shipped >= begins || complained }, true},
	} {
		found, covered, naive := 0, 0, 0
		for seed := range shops {
			orders, outcomes := ledger(seed, kind.written)
			for _, q := range []string{"DELETE FROM orders", "DELETE FROM outcomes", orders, outcomes} {
				_, err := db.ExecContext(ctx, q)
				require.NoError(t, err)
			}
			b, err := r.Began(ctx)
			require.NoError(t, err)
			if b.Received.Known() || b.Shipped.Known() {
				found++
			}
			covers := func(where string) bool {
				var n, x int
				require.NoError(t, r.each(ctx, "SELECT count(*), count(*) FILTER (remade) FROM follow_up WHERE "+where, nil, func(rows *sql.Rows) error { return rows.Scan(&n, &x) }))
				e := stats.Wilson(x, n, 0.95)
				return e.Low <= truth && truth <= e.High
			}
			if covers("doubt IS NULL") {
				covered++
			}
			if covers("TRUE") {
				naive++
			}
		}
		n := float64(shops)
		t.Logf("%s: a beginning found in %d of %d books; the interval holds the share in %d, of all orders in %d", kind.name, found, shops, covered, naive)
		slack := 2.5 * math.Sqrt(0.05*0.95/n)
		assert.GreaterOrEqual(t, float64(covered)/n, 0.94-slack)
		if kind.midway {
			assert.Equal(t, shops, found)
			assert.Less(t, float64(naive)/n, 0.1)
		} else {
			assert.Zero(t, found)
		}
	}
}

// What is left out is counted with its reason, in the words too; the shop's own day
// goes before what is read off the orders: with CI=true where it leaves out nothing,
// too, and in the cohort.
func TestWhenTheBookBegan(t *testing.T) {
	const begins = cohort.Day(19000 + 2*365)
	ctx := context.Background()
	before := 0
	orders, outcomes := ledger(1, func(received, _ cohort.Day, complained bool) bool {
		if received < begins && complained {
			before++
		}
		return received >= begins || complained
	})
	db := handmade(t, orders, outcomes)
	r := readerAt(t, db, "2026-06-01")
	i, err := r.Info(ctx)
	require.NoError(t, err)
	assert.Equal(t, []cohort.Exclusion{{Reason: "from before the book began, known by its complaint", Orders: before, Some: []string{"o107", "o114", "o12"}}}, i.LeftOut)
	assert.Equal(t, i.Orders-before, i.Followed)
	assert.Equal(t, begins, i.Began.Received)
	assert.Equal(t, before, i.Began.LeftOut)
	assert.False(t, i.Began.Set)
	assert.Contains(t, i.Notes[0], fmt.Sprintf("%d orders received before %s or shipped before ", before, begins))
	assert.Contains(t, i.Notes[0], "book_begins")
	if breadth.Wide() {
		c, err := r.Cohort(ctx)
		require.NoError(t, err)
		assert.Equal(t, i.Followed, c.Len())
		assert.Equal(t, i.LeftOut, c.Excluded)
	}

	set := func(day string) *Info {
		_, err := db.ExecContext(ctx, "DELETE FROM settings; INSERT INTO settings VALUES ('book_begins', '"+day+"')")
		require.NoError(t, err)
		i, err := r.Info(ctx)
		require.NoError(t, err)
		return i
	}
	if breadth.Wide() {
		all := set("1990-01-01")
		assert.Equal(t, i.Orders, all.Followed)
		assert.True(t, all.Began.Set)
	}
	later := set((begins + 100).String())
	assert.Less(t, later.Followed, i.Followed)
	assert.True(t, later.Began.Set)
	assert.Equal(t, later.Orders-later.Followed, later.Began.LeftOut)
	assert.Contains(t, later.Notes[0], "as the shop's setting book_begins says")
}
