// Package taping shows a measuring session: its sheets to print before, and what
// everybody measured after.
//
//  1. Sheets are who tapes whom when, and a sheet of boxes for each who measures.
//  2. Together is all of it beside the instructor's, with what is tolerated drawn.
//  3. Result is one person's page to take home, without anybody else's numbers.
package taping

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/session"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// cautions stand on everything that is printed of a session.
var cautions = []string{
	"Whoever has diabetes, numb feet, sores or an orthotic sees a podiatrist or another licensed professional before boots are made. If a leg has lately become swollen, warm or painful, don't measure it: that person sees a doctor at once.",
	"What is measured here is private: write letters or customer numbers, no names, for those whose legs are taped, and keep the sheets with the book.",
	"A figure of one session is no judgement of a person. It says what to look at next time.",
}

// Together shows everybody's numbers beside the instructor's: for each spot a figure,
// for each measurer the figures with what is tolerated, and habits in words.
func Together(p *session.Plan, entries []session.Entry) []page.Block {
	repeats := p.Repeats(entries)
	by := repeatability.ByMeasurer(repeats)
	var out []page.Block
	for k, spot := range p.Spots {
		out = append(out, chart(p, entries, by, k, spot))
	}
	t := page.Table{ID: "by-measurer", Caption: "Each measurer beside the instructor", Columns: append([]page.Column{{Key: "measurer", Title: "Measurer"}}, columns...)}
	for _, who := range p.Measurers {
		for _, spot := range p.Spots {
			m := at(by[who], spot)
			t.Rows = append(t.Rows, append([]page.Cell{page.AsIs(who)}, cells(spot, m)...))
		}
	}
	t.Total = len(t.Rows)
	t.Notes = append(page.Refusals(t.Rows), notes()...)
	out = append(out, t)
	says := page.Prose{}
	habits := repeatability.Of(repeats).Habits
	for _, h := range habits {
		if standsOut(h) {
			says = append(says, h.Measurer+": "+h.Says)
		}
	}
	if len(says) == 0 && len(habits) > 0 {
		says = page.Prose{"No habit stands out on the leg. Who pulls the tape tighter, and who tapes higher, are told apart once legs are taken at three heights or more."}
	}
	if len(says) > 0 {
		out = append(out, says)
	}
	return out
}

// standsOut reports whether an interval of the habit leaves out 0.
func standsOut(h repeatability.Habit) bool {
	apart := func(e stats.Estimate) bool { return e.Bounded() && (e.High < 0 || e.Low > 0) }
	return apart(h.Tightness) || apart(h.Height)
}

var columns = []page.Column{{Key: "spot", Title: "Where"}, {Key: "bias_mm", Title: "Mean difference, 95 % interval", Unit: "mm", Numeric: true}, {Key: "tolerance_mm", Title: "Tolerated", Unit: "mm", Numeric: true},
	{Key: "within_tolerance", Title: "Within it"}, {Key: "tem_mm", Title: "Own readings apart (TEM)", Unit: "mm", Numeric: true}, {Key: "legs_needed", Title: "Legs for ± half of it", Numeric: true}}

func cells(spot session.Spot, m repeatability.Measured) []page.Cell {
	needed := page.Cell{}
	if m.LegsNeeded > 0 {
		needed = page.Count(m.LegsNeeded)
	}
	return []page.Cell{page.Text(spot.Name()), page.Plain(m.Bias, 1), page.Number(m.Tolerance.MM, 0), page.Text(m.Within), page.Plain(m.TEM, 1), needed}
}

func notes() []string {
	return []string{"Mean difference: the measurer's mean less the instructor's, over legs; Student's t interval. Own readings apart: technical error of measurement, how far two readings of one leg lie from each other.",
		"Tolerated: " + repeatability.ToleranceOf("ball").Source + "."}
}

// at is how a measurer read a spot; with nothing there, an answer that says so.
func at(list []repeatability.Measured, spot session.Spot) repeatability.Measured {
	i := slices.IndexFunc(list, func(m repeatability.Measured) bool {
		h := float64(m.HeightMM)
		return m.Point == spot.Point.String() && (math.IsNaN(h) && spot.HeightMM == 0 || h == float64(spot.HeightMM))
	})
	if i >= 0 {
		return list[i]
	}
	none := stats.Missing(0, "mean difference from the instructor", "too few to tell: no number beside the instructor's")
	return repeatability.Measured{Point: spot.Point.String(), Bias: none, TEM: none, Within: "can't be told yet", Tolerance: repeatability.ToleranceOf(spot.Point.String())}
}

// chart draws the differences at a spot, of all who learn.
func chart(p *session.Plan, entries []session.Entry, by map[string][]repeatability.Measured, k int, spot session.Spot) page.Figure {
	v := figure.Deviations{ID: fmt.Sprint("spot-", k+1), Title: spot.Name() + ", beside the instructor's", Axis: axis, Desc: spot.Name() + described}
	for i, who := range p.Measurers {
		row := rowOf(p, entries, who, i+1, k, at(by[who], spot))
		row.Person = true
		v.Rows = append(v.Rows, row)
	}
	return figure.DeviationChart(v)
}

const (
	axis      = "mm more than the instructor"
	described = ": each number less the instructor's mean of the same leg, and what is tolerated."
)

func rowOf(p *session.Plan, entries []session.Entry, label string, person, spot int, m repeatability.Measured) figure.DeviationRow {
	row := figure.DeviationRow{Label: label, Tolerance: m.Tolerance.MM, Mean: m.Bias}
	for _, d := range p.Deviations(entries) {
		if d.Spot == spot && d.Person == person {
			row.Values = append(row.Values, d.MM)
		}
	}
	return row
}

// Result is what one who learned takes home; person is a place in the plan's People.
func Result(p *session.Plan, entries []session.Entry, person int) *page.Document {
	who := p.People()[person]
	repeats := p.Repeats(entries)
	list := repeatability.ByMeasurer(repeats)[who]
	t := page.Table{ID: "result", Caption: "Beside the instructor", Columns: columns, Total: len(p.Spots)}
	for _, spot := range p.Spots {
		t.Rows = append(t.Rows, cells(spot, at(list, spot)))
	}
	t.Notes = append(page.Refusals(t.Rows), notes()...)
	d := &page.Document{Title: who + ": your measurements", Lead: fmt.Sprintf("Session %s, %s, %s measured %s each.", p.ID, p.Day, page.Counted(2*len(p.Subjects), "leg", "legs"), map[int]string{1: "once", 2: "twice"}[p.Trials]), Cautions: cautions}
	if p.Trials > 2 {
		d.Lead = fmt.Sprintf("Session %s, %s, %s measured %d times each.", p.ID, p.Day, page.Counted(2*len(p.Subjects), "leg", "legs"), p.Trials)
	}
	d.Sections = []page.Section{{ID: "next", Title: "What to look at next time", Sheet: 1, Blocks: []page.Block{next(repeats, list, who)}},
		{ID: "figures", Title: "Your numbers beside the instructor's", Sheet: 1, Blocks: []page.Block{t}}}
	v := figure.Deviations{ID: "drawn", Title: "Each of your numbers", Axis: axis, Desc: "Each place" + described}
	for k, spot := range p.Spots {
		v.Rows = append(v.Rows, rowOf(p, entries, spot.Name(), person, k, at(list, spot)))
	}
	d.Sections = append(d.Sections, page.Section{ID: "numbers", Sheet: 1, Blocks: []page.Block{figure.DeviationChart(v)}})
	return d
}

// next says at most two things to work on, the farthest from what is tolerated first.
func next(repeats []repeatability.Repeat, list []repeatability.Measured, who string) page.Prose {
	var far []repeatability.Measured
	for _, m := range list {
		if m.Within == "no" {
			far = append(far, m)
		}
	}
	slices.SortStableFunc(far, func(a, b repeatability.Measured) int {
		return cmp.Compare(math.Abs(b.Bias.Point)/b.Tolerance.MM, math.Abs(a.Bias.Point)/a.Tolerance.MM)
	})
	var out page.Prose
	for _, h := range repeatability.Of(repeats).Habits {
		if h.Measurer == who && standsOut(h) {
			out = append(out, "On the leg: "+h.Says+" Lay the tape level at the mark, snug, and read it without pulling.")
		}
	}
	for _, m := range far {
		if p, _ := form.ParsePoint(m.Point); len(out) > 0 && !(p < form.Ankle) {
			continue // the habit says it
		}
		if len(out) == 2 {
			break
		}
		more := "more"
		if m.Bias.Point < 0 {
			more = "less"
		}
		out = append(out, fmt.Sprintf("%s: %.0f mm %s than the instructor on average (%.0f to %.0f), where %.0f mm are tolerated. Watch once where the instructor lays the tape, then take it again.",
			spotOf(m).Name(), math.Abs(m.Bias.Point), more, math.Abs(nearer(m.Bias)), math.Abs(farther(m.Bias)), m.Tolerance.MM))
	}
	if len(out) == 0 {
		out = page.Prose{"Nothing stands out as far as this session tells. Where it says “can't be told yet”, measure more legs before anybody is sure."}
	}
	return out
}

func spotOf(m repeatability.Measured) session.Spot {
	point, _ := form.ParsePoint(m.Point)
	s := session.Spot{Point: point}
	if h := float64(m.HeightMM); !math.IsNaN(h) {
		s.HeightMM = form.Height(h)
	}
	return s
}

// nearer and farther are the ends of an interval by their distance from 0.
func nearer(e stats.Estimate) float64 {
	if math.Abs(e.Low) < math.Abs(e.High) {
		return e.Low
	}
	return e.High
}

func farther(e stats.Estimate) float64 { return e.Low + e.High - nearer(e) }
