package load

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/demo"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

// The naive workshop reads the same sheets row by row and goes by the words of
// the catalogue alone; no SQL, no view.
type naive struct {
	orders, forms, outcomes, calls []map[string]string
	numbers                        map[string]map[string]bool // form → "left bare leg 7" …
}

func readNaive(t *testing.T, dir string) naive {
	n := naive{orders: csvRows(t, dir, "orders"), forms: csvRows(t, dir, "forms"), outcomes: csvRows(t, dir, "outcomes"),
		calls: csvRows(t, dir, "callbacks"), numbers: map[string]map[string]bool{}}
	for _, m := range csvRows(t, dir, "measurements") {
		if n.numbers[m["form_id"]] == nil {
			n.numbers[m["form_id"]] = map[string]bool{}
		}
		n.numbers[m["form_id"]][strings.TrimSpace(m["side"]+" "+m["clothing"]+" "+m["point"]+" "+m["height"])] = true
	}
	return n
}

func csvRows(t *testing.T, dir, sheet string) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, sheet+".csv"))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// noted is a fault that any "no" makes and all "yes" clear.
func noted(marks ...string) form.State {
	state := form.Without
	for _, m := range marks {
		switch m {
		case "no":
			return form.With
		case "":
			state = form.Unknown
		}
	}
	return state
}

func withIf(b bool) form.State {
	if b {
		return form.With
	}
	return form.Without
}

// states are the faults of a form that are not read off its values.
func (n naive) states(o, f map[string]string) map[string]form.State {
	has, keyed := n.numbers[f["form_id"]]
	s := map[string]form.State{
		"tape-marks-missing": noted(f["ball_mark_left"], f["ball_mark_right"], f["instep_mark_left"], f["instep_mark_right"]),
		"outline-broken":     noted(f["outline_closed_left"], f["outline_closed_right"]),
		"outline-doubled":    noted(f["outline_single_left"], f["outline_single_right"]),
		"tape-zero-missed":   noted(f["tape_zero_used"]),
		"self-measured":      form.Unknown,
		"foot-girth-missing": form.Unknown, "leg-height-missing": form.Unknown,
		"tucked-set-skipped": form.NotAtRisk, "orthotic-undiscussed": form.NotAtRisk,
	}
	if f["self_measured"] != "" {
		s["self-measured"] = withIf(f["self_measured"] == "yes")
	}
	if o["orthotic"] == "yes" {
		s["orthotic-undiscussed"] = noted(f["orthotic_discussed"])
	}
	if o["worn_tucked"] == "yes" {
		s["tucked-set-skipped"] = form.Unknown
	}
	if !keyed {
		return s
	}
	missing := func(points ...string) bool {
		for _, p := range points {
			if !has["left bare "+p] || !has["right bare "+p] {
				return true
			}
		}
		return false
	}
	s["foot-girth-missing"] = withIf(missing("ball", "instep", "heel"))
	if missing("ankle") {
		s["leg-height-missing"] = form.With
	} else if shaft, err := strconv.ParseFloat(o["shaft_height_in"], 64); err == nil {
		var need []string
		for h := 7; float64(h) <= shaft; h += 2 {
			need = append(need, "leg "+strconv.Itoa(h))
		}
		s["leg-height-missing"] = withIf(missing(need...))
	}
	if o["worn_tucked"] == "yes" {
		s["tucked-set-skipped"] = form.With
		for number := range has {
			if strings.Contains(number, " tucked ") {
				s["tucked-set-skipped"] = form.Without
			}
		}
	}
	return s
}

// formless is what is known of an order without a form.
func (n naive) formless(o map[string]string) map[string]form.State {
	return n.states(o, map[string]string{})
}

// expected is what the cohort must say of one order on a day.
type expected struct {
	remade, adjusted, returned string
	answered, called           bool
	cut, first                 map[string]form.State
	cutIsFirst                 bool
}

func (n naive) on(asOf string) (in map[string]expected, out int) {
	in = map[string]expected{}
	seen := func(day string) bool { return day == "" || day <= asOf }
	for _, o := range n.orders {
		if !seen(o["received_on"]) {
			continue
		}
		if o["shipped_on"] == "" || o["shipped_on"] > asOf || o["remake_of_order_id"] != "" {
			out++
			continue
		}
		e := expected{cut: n.formless(o), first: n.formless(o)}
		earliest := func(day *string, v string) {
			if *day == "" || v < *day {
				*day = v
			}
		}
		for _, r := range n.outcomes {
			if r["order_id"] != o["order_id"] || !seen(r["reported_on"]) {
				continue
			}
			e.answered = true
			switch r["result"] {
			case "remade":
				earliest(&e.remade, r["reported_on"])
			case "adjusted":
				earliest(&e.adjusted, r["reported_on"])
			case "returned":
				earliest(&e.returned, r["reported_on"])
			}
		}
		first := ""
		for _, f := range n.forms {
			if f["order_id"] != o["order_id"] || !seen(f["received_on"]) {
				continue
			}
			if first == "" || f["form_no"] < first {
				first, e.first, e.cutIsFirst = f["form_no"], n.states(o, f), f["cut_from"] == "yes"
			}
			if f["cut_from"] == "yes" {
				e.cut = n.states(o, f)
			}
			for _, c := range n.calls {
				e.called = e.called || c["form_id"] == f["form_id"] && seen(c["called_on"])
			}
		}
		in[o["order_id"]] = e
	}
	return in, out
}

// The cohort of the invented workshop is held against a reading row by row, and
// against the views. A hundred orders on one day, with CI=true
// three hundred, and on early, late and last days, too.
func TestCohort(t *testing.T) {
	dir := t.TempDir()
	_, err := demo.Write(dir, demo.Options{Seed: 7, Orders: breadth.Few(100, 300)})
	require.NoError(t, err)
	book := newBook(t)
	opt := options(dir)
	opt.JudgeLater = true
	_, err = Sheets(context.Background(), book, opt)
	require.NoError(t, err)
	const asOf = "2026-03-31"
	c := cohortOn(t, book, asOf)
	t.Run("agrees with a naive reading", func(t *testing.T) {
		n := readNaive(t, dir)
		n.requireOf(t, asOf, c)
		if breadth.Wide() {
			for _, day := range []string{"2023-12-01", "2024-06-30", "2025-04-01", "2025-12-31", "2026-05-05", "2026-09-30"} {
				n.requireOf(t, day, cohortOn(t, book, day))
			}
		}
	})
	t.Run("agrees with the views", func(t *testing.T) { agreesWithTheViews(t, book, asOf, c) })
}

// cohortOn is the cohort of a book as it was known on a day.
func cohortOn(t *testing.T, book, asOf string) *cohort.Cohort {
	t.Helper()
	r, err := orderbook.OpenReader(context.Background(), book, orderbook.Options{AsOf: dayOf(t, asOf)})
	require.NoError(t, err)
	defer r.Close()
	c, err := r.Cohort(context.Background())
	require.NoError(t, err)
	return c
}

// requireOf wants a cohort to say of every order what a reading row by row says.
func (n naive) requireOf(t *testing.T, asOf string, c *cohort.Cohort) {
	t.Helper()
	want, out := n.on(asOf)
	require.Equal(t, len(want), c.Len(), asOf)
	left := 0
	for _, x := range c.Excluded {
		left += x.Orders
	}
	require.Equal(t, out, left, asOf)
	for i, id := range c.OrderID {
		e := want[id]
		require.Equal(t, [3]string{e.remade, e.adjusted, e.returned}, [3]string{c.Remade[i].String(), c.Adjusted[i].String(), c.Returned[i].String()}, "%s %s", asOf, id)
		require.Equal(t, [2]bool{e.answered, e.called}, [2]bool{c.Answered[i], c.CalledBack[i]}, "%s %s", asOf, id)
		require.Equal(t, e.cutIsFirst, c.CutNo[i] == 1, "%s %s", asOf, id)
		for k, f := range form.Faults {
			if f.Kind == form.Evident {
				continue
			}
			require.Equal(t, e.cut[f.ID], c.Cut[k][i], "%s %s %s cut", asOf, id, f.ID)
			require.Equal(t, e.first[f.ID], c.First[k][i], "%s %s %s first", asOf, id, f.ID)
		}
	}
}

// The views say the same: form_fault in words, and the cohort by SQL.
func agreesWithTheViews(t *testing.T, book, asOf string, c *cohort.Cohort) {
	ctx := context.Background()
	db, err := bookfile.Open(ctx, bookfile.FilesOf(book).Snapshot(), true)
	require.NoError(t, err)
	defer db.Close()
	conn, err := db.Conn(ctx)
	require.NoError(t, err)
	defer conn.Close()
	_, err = orderbook.MakeViews(ctx, conn, dayOf(t, asOf), true, "")
	require.NoError(t, err)
	row := map[string]int{}
	for i, id := range c.OrderID {
		row[id] = i
	}
	rows, err := engine.Texts(ctx, conn, `SELECT a.order_id, a.fault, a.state FROM form_fault a JOIN cut_form USING (form_id) SEMI JOIN cohort ON cohort.order_id = a.order_id`)
	require.NoError(t, err)
	words := [...]string{"unknown", "without", "with", "not at risk"}
	count := 0
	for _, x := range rows {
		k, ok := form.FaultIndex(x[1])
		require.True(t, ok)
		require.Equal(t, words[c.Cut[k][row[x[0]]]], x[2], "%s %s", x[0], x[1])
		count++
	}
	known := 0
	for _, no := range c.CutNo {
		if no > 0 {
			known++
		}
	}
	require.Equal(t, known*len(form.Faults), count)
	var counted []string
	for _, f := range form.Faults {
		column := strings.ReplaceAll(f.ID, "-", "_")
		counted = append(counted, "count(*) FILTER ("+column+"), count(*) FILTER ("+column+" AND remade_on IS NOT NULL)")
	}
	got, err := engine.Texts(ctx, conn, "SELECT "+strings.Join(counted, ", ")+" FROM cohort")
	require.NoError(t, err)
	for k, f := range form.Faults {
		with, remade := 0, 0
		for i := range c.OrderID {
			if c.Cut[k][i] == form.With {
				with++
				if c.Remade[i].Known() {
					remade++
				}
			}
		}
		require.Equal(t, [2]string{strconv.Itoa(with), strconv.Itoa(remade)}, [2]string{got[0][2*k], got[0][2*k+1]}, f.ID)
	}
}

func dayOf(t testing.TB, s string) cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	require.NoError(t, err)
	return d
}
