package review

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/remakes"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// formats prints a document in all four forms.
func formats(t *testing.T, d *page.Document) map[string]string {
	t.Helper()
	out := map[string]string{}
	var b bytes.Buffer
	require.NoError(t, page.HTML(&b, d))
	out["html"] = b.String()
	b.Reset()
	require.NoError(t, page.WriteText(&b, d, page.TextOptions{}))
	out["text"] = b.String()
	b.Reset()
	require.NoError(t, page.JSON(&b, d))
	out["json"] = b.String()
	b.Reset()
	for _, table := range page.Tables(d) {
		require.NoError(t, page.CSV(&b, &table))
	}
	out["csv"] = b.String()
	return out
}

// The review answers at any size, in every form, without a word that claims
// too much and without anything that is not a number.
func TestReviewOfAnySize(t *testing.T) {
	for _, n := range []int{0, 1, 9, 60, 300, 1500} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			r := made(t, n)
			d := document(r)
			for name, s := range formats(t, d) {
				for _, bad := range []string{"NaN", "Inf", "significant", "causes ", "due to ", "saved"} {
					assert.NotContains(t, s, bad, name)
				}
			}
			assert.NotEmpty(t, d.Lead)
			assert.Contains(t, strings.Join(d.Cautions, " "), "licensed care")
			assert.Contains(t, strings.Join(d.Cautions, " "), "private")
			assert.Contains(t, strings.Join(d.Cautions, " "), "no diagnosis")
			ids := map[string]bool{}
			for _, table := range page.Tables(d) {
				require.NotEmpty(t, table.ID)
				assert.False(t, ids[table.ID], "two tables would go to one file %s.csv", table.ID)
				ids[table.ID] = true
				for _, row := range table.Rows {
					assert.Len(t, row, len(table.Columns), table.ID)
				}
			}
		})
	}
}

func TestReviewHoldsWhatWasAskedFor(t *testing.T) {
	d := document(made(t, 1500))
	sheet := map[string]int{}
	kinds := map[string][]string{}
	for _, s := range d.Sections {
		sheet[s.ID] = s.Sheet
		for _, b := range s.Blocks {
			kinds[s.ID] = append(kinds[s.ID], fmt.Sprintf("%T", b))
		}
	}
	for _, id := range []string{"run-chart", "figures", "remade", "findings", "decide"} {
		assert.Equal(t, 1, sheet[id], id)
	}
	for _, id := range []string{"look-at", "complaints", "scorecard", "fault-table", "month"} {
		assert.Equal(t, 2, sheet[id], id)
	}
	for _, id := range []string{"run-chart", "complaints", "maturity-curves", "fault-forest", "scorecard-full", "measurements"} {
		assert.Contains(t, kinds[id], "page.Figure", "%s is drawn", id)
	}
	assert.LessOrEqual(t, len(kinds["findings"]), 4, "three cards, and the others by name")
	text := formats(t, d)["text"]
	assert.Contains(t, text, "Left out: 12 second makings of another order; 41 not shipped")
	assert.Contains(t, text, "book 7f3b9c2a4d5e")
	assert.Contains(t, text, "mature")
}

// Sheet one is read by who makes boots: no word of statistics stands on it.
func TestSheetOneSpeaksPlainly(t *testing.T) {
	for _, n := range []int{0, 60, 1500} {
		d := document(made(t, n))
		first := &page.Document{Title: d.Title, Lead: d.Lead}
		for _, s := range d.Sections {
			if s.Sheet == 1 {
				first.Sections = append(first.Sections, s)
			}
		}
		text := strings.ToLower(formats(t, first)["text"])
		for _, hard := range []string{"interval", "mature", "e-value", "risk ratio", "odds", "cusum", "confidence", "estimate", "95 %", "(n ", " q 0", "baseline", "adjusted per", "bootstrap", "standard"} {
			assert.NotContains(t, text, hard)
		}
	}
}

func TestSameInputSameBytes(t *testing.T) {
	a, b := formats(t, document(fresh(t, 300))), formats(t, document(made(t, 300)))
	for k := range a {
		assert.Equal(t, a[k], b[k], k)
	}
}

func estimate(p, lo, hi float64) stats.Estimate {
	return stats.Estimate{Point: p, Low: lo, High: hi, Level: 0.95, N: 1000, Method: "test"}
}

// Without adjustment a fault is a finding only when its interval lies above
// nothing and its q value is within the level; then it says so.
func TestCrudeFindingsSaySo(t *testing.T) {
	f := remakes.FaultFinding{Fault: "x", Title: "x", RiskDifference: estimate(0.1, 0.04, 0.17), QValue: 0.03, AdjustedRD: stats.Missing(10, "m", "too few")}
	got, ok := FaultAsFinding(f)
	require.True(t, ok)
	assert.Contains(t, got.Certainty, "not adjusted")
	for name, change := range map[string]func(*remakes.FaultFinding){
		"interval holds nothing": func(f *remakes.FaultFinding) { f.RiskDifference = estimate(0.1, -0.01, 0.2) },
		"q too large":            func(f *remakes.FaultFinding) { f.QValue = 0.11 },
		"q not given":            func(f *remakes.FaultFinding) { f.QValue = stats.Value(math.NaN()) },
		"difference not given":   func(f *remakes.FaultFinding) { f.RiskDifference = stats.Missing(3, "m") },
		"adjustment takes it away": func(f *remakes.FaultFinding) {
			f.AdjustedRD = estimate(0.01, -0.05, 0.07)
		},
	} {
		g := f
		change(&g)
		_, ok := FaultAsFinding(g)
		assert.False(t, ok, name)
	}
}

func TestSentence(t *testing.T) {
	asOf, _ := cohort.ParseDay("2026-10-31")
	m := monitoring.Monthly{AsOf: asOf, Months: []monitoring.Month{
		{Month: 24320, Equal: monitoring.EqualAge{Sentence: "3 of 41 within 60 days; usual range 1 to 6"}},
		{Month: 24321, Signal: "above", Equal: monitoring.EqualAge{Age: 40, Remade: 9, Shipped: 30}},
	}}
	assert.Equal(t, "3 of 41 within 60 days; usual range 1 to 6.", sentence(m, 24320))
	assert.Equal(t, "9 of 30 remade within 40 days. The month lies above its limits.", sentence(m, 24321))
	assert.Equal(t, "No boots shipped in March 2020 are in the book as of 2026-10-31.", sentence(m, 2020*12+2))
}

func TestScorecardPutsTheUsefulRulesFirst(t *testing.T) {
	short := scorecardShort(scorecard(99))[0].(page.Table)
	assert.Len(t, short.Rows, rulesShort)
	assert.Equal(t, len(scorecard(99).Rules), short.Total)
	last := math.Inf(1)
	for _, row := range short.Rows {
		e := row[7].Value.(stats.Estimate)
		assert.LessOrEqual(t, e.Point, last)
		last = e.Point
	}
	all := RulesPage(scorecard(99))
	rows := page.Tables(all)[0].Rows
	assert.Len(t, rows, len(scorecard(99).Rules), "the command prints every rule")
	assert.Contains(t, strings.Join(page.Tables(all)[0].Notes, "\n"), "4 forms held: 6 more needed (Foot girth missing", "a refusal is said in words, and for which rule")
}

func TestFaultTableShowsEveryFaultOnce(t *testing.T) {
	d := remakes.Faults(context.Background(), invented(800, 3), remakes.Options{})
	rows := FaultTable(d)[0].(page.Table).Rows
	seen := map[any]int{}
	for _, r := range rows {
		seen[r[0].Value]++
	}
	for _, f := range form.Faults {
		assert.Equal(t, 1, seen[f.ID], f.ID)
	}
	assert.Equal(t, "not made", rows[0][7].Text, "no adjustment was asked for")
}

func TestPagesOfSingleFindings(t *testing.T) {
	c := invented(800, 3)
	t.Run("faults", func(t *testing.T) {
		s := formats(t, FaultsPage(remakes.Faults(context.Background(), c, remakes.Options{})))
		assert.Contains(t, s["text"], "mature orders as of 2026-10-31")
		assert.NotContains(t, s["json"], "NaN")
	})
	t.Run("trend", func(t *testing.T) {
		d := TrendPage(monitoring.Watch(c, remakes.Options{}))
		rows := page.Tables(d)[0].Rows
		assert.Len(t, rows, 36)
		formats(t, d)
	})
	t.Run("empty", func(t *testing.T) {
		for _, d := range []*page.Document{FaultsPage(remakes.FaultTable{}), RulesPage(rules.Scorecard{}), TrendPage(monitoring.Trend{}), CheckPage(desk.Checked{}), FactsPage("t", "", nil)} {
			for name, s := range formats(t, d) {
				assert.NotContains(t, s, "NaN", name)
			}
		}
	})
}

func TestCheckPage(t *testing.T) {
	h, score, post := 279.4, 11.25, 0.8
	d := desk.Checked{Forms: []desk.Decision{
		{FormID: "F-1", Verdict: desk.Cut, Complete: true},
		{FormID: "F-2", Verdict: desk.MeasureAgain, Missing: []form.Place{{Point: form.Leg, HeightMM: form.Height(h)}}, AlarmScore: &score, Alarm: true,
			TakeAgain: []form.Place{{Side: form.Right, Clothing: form.Tucked, Point: form.Leg, HeightMM: form.Height(h)}}, Reasons: []string{"The ball girth is an inch off."},
			Doubts: []desk.Doubt{{Place: form.Place{Point: form.Ball}, Written: "10 1/2 in", ValueMM: 266.7, Hypothesis: "one-inch", Posterior: &post}}, Cautions: []string{"Swelling: licensed advice."}},
	}}
	p := CheckPage(d)
	assert.Equal(t, "1 of 2 forms held.", p.Lead)
	text := formats(t, p)["text"]
	assert.Contains(t, text, "Take again: right leg girth at 279 mm (11 in), over trousers.")
	assert.Contains(t, text, "Swelling: licensed advice.")
	assert.Contains(t, text, "licensed care")
	assert.Contains(t, text, "not judged")
	assert.NotContains(t, text, "Form F-1:", "a form with nothing to say has no section")
	var j struct {
		Sections []struct {
			Blocks []struct{ Rows []map[string]any }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(formats(t, p)["json"]), &j))
	assert.Equal(t, 11.25, j.Sections[0].Blocks[0].Rows[1]["alarm_score"])
	assert.Nil(t, j.Sections[0].Blocks[0].Rows[0]["alarm_score"])
}

func TestMeasurementsNeedEnoughNumbers(t *testing.T) {
	few := spreads()
	few[0].N = leastSpread - 1
	f := measurements(few, nil, 0)
	require.Len(t, f, 2, "numbers, and ratios")
	assert.Contains(t, string(f[0].(page.Figure).SVG), page.TooFew)
	assert.Nil(t, measurements(nil, nil, 0))
	e := share(1, 9)
	assert.False(t, e.Given())
	assert.Contains(t, e.Warnings[0], "no share under 10")
	_, ok := published(human.Spread{Name: "instep", Sex: form.Male})
	assert.False(t, ok, "nothing is published for the instep")
}

func TestValuesHaveNamesOfTheirOwn(t *testing.T) {
	seen := map[string]bool{}
	for _, v := range made(t, 300).Values() {
		assert.False(t, seen[v.Name], v.Name)
		assert.NotEmpty(t, v.Text, v.Name)
		seen[v.Name] = true
	}
	for _, name := range []string{"month.share", "mature.orders", "tape-marks-missing.risk_ratio", "rule.tape-marks-missing.sensitivity", "any-fault.risk_difference"} {
		assert.True(t, seen[name], name)
	}
}

// BenchmarkReview makes and prints a review; what the analyses take is not in
// it.
func BenchmarkReview(b *testing.B) {
	r := made(b, 3000)
	for b.Loop() {
		var w bytes.Buffer
		require.NoError(b, page.HTML(&w, document(r)))
	}
}

// Of a book without a shipped pair the review says what is needed, and no page of
// "too few to tell".
func TestNoShippedPair(t *testing.T) {
	r := made(t, 0)
	assert.Contains(t, r.Lead(), "no shipped pair yet. Load order sheets")
	for _, p := range r.Parts() {
		if p.Name != "findings" && p.Name != "month" {
			assert.Empty(t, p.Blocks, p.Name)
		}
	}
	s := formats(t, document(r))["text"]
	assert.Contains(t, s, "note the faults of every form")
	assert.NotContains(t, s, page.TooFew)
}

func TestOneMonthIsNoMonths(t *testing.T) {
	assert.Contains(t, scoreCaption(rules.Scorecard{FirstForms: 1, Months: 1}), "1 mature order (0 remade) over 1 month")
	assert.NotContains(t, scoreCaption(rules.Scorecard{FirstForms: 1, Months: 1}), "months")
}

// A count of orders leads to just those orders, unless they are more than anybody goes
// through.
func TestCountsLeadToTheirOrders(t *testing.T) {
	c := invented(1500, 7)
	for i := range c.CutNo {
		if i%7 == 0 {
			c.CalledBack[i], c.CutNo[i] = true, int16(1+i%2)
		}
	}
	from, _ := cohort.ParseDay("2025-04-01")
	var applied []rules.Applied
	for j, r := range rules.Default()[:3] {
		if j == 0 {
			r.From = from
		}
		applied = append(applied, rules.Applied{Rule: r, Held: c.First[j]})
	}
	card := rules.Score(context.Background(), c, applied, nil, rules.Options{Desk: []rules.DeskHeld{{Applied: applied[1], Verdict: "ask"}}})
	table := remakes.Faults(context.Background(), c, remakes.Options{})
	risks, err := risk.Follow(context.Background(), c, risk.Options{})
	require.NoError(t, err)
	var blocks []page.Block
	blocks = append(blocks, Levels(table)...)
	blocks = append(blocks, FaultTable(table)...)
	blocks = append(blocks, scorecardShort(card)...)
	blocks = append(blocks, ledger(card), deskTable(card), sinceTable(card))
	blocks = append(blocks, unjudged(sensitivity.Unjudged(context.Background(), c, table, sensitivity.UnjudgedOptions{BoundsOnly: true}))...)
	blocks = append(blocks, riskCourse(risks)...)
	counts := map[string][]string{"levels-data": {"orders", "remade"}, "fault-table-data": {"with_fault", "unknown"}, "scorecard-table": {"held"}, "call-backs": {"orders", "remade"},
		"unjudged-data": {"unknown"}, "risk-course": {"orders", "remade_so_far"}}
	shares := map[string][]string{"desk": {"held_a_month", "sensitivity"}, "since": {"before", "after"}}
	for _, b := range blocks {
		tb, is := b.(page.Table)
		if !is {
			continue
		}
		require.NotEmpty(t, tb.Rows, tb.ID)
		for k, column := range tb.Columns {
			for _, row := range tb.Rows {
				if slices.Contains(counts[tb.ID], column.Key) {
					if n := row[k].Value.(int); n <= remakes.MostBehind {
						assert.Len(t, row[k].Ref.IDs, n, "%s, %s of %s", tb.ID, column.Key, row[0].Text)
					} else {
						assert.Empty(t, row[k].Ref.IDs)
					}
				}
				if slices.Contains(shares[tb.ID], column.Key) {
					assert.NotEmpty(t, row[k].Ref.IDs, "%s, %s of %s", tb.ID, column.Key, row[0].Text)
				}
			}
		}
		delete(counts, tb.ID)
		delete(shares, tb.ID)
	}
	assert.Empty(t, counts)
	assert.Empty(t, shares)
}
