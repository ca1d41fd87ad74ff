package repeatability

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/components"
	"lastroom/analysis/stats"
)

// A Study is what sessions of repeated measurements tell.
type Study struct {
	Sessions   int          `json:"sessions"`
	Legs       int          `json:"legs"`
	Measurers  int          `json:"measurers"` // the instructor not counted
	Numbers    int          `json:"numbers"`
	Points     []Point      `json:"points"`
	Components []Components `json:"components"`
	Habits     []Habit      `json:"habits"`
	// LegsForTEM is the number of legs, each taken twice, that a technical error takes to be
	// known to within a half of itself upwards.
	LegsForTEM int      `json:"legs_for_tem"`
	Warnings   []string `json:"warnings"`
}

// A Point is how well all measurers read one spot.
type Point struct {
	Point  string      `json:"point"`
	Height stats.Value `json:"height"` // mm
	N      int         `json:"n"`      // numbers, the instructor's not counted
	// TEM is the technical error within measurers, Relative its share of the mean
	// reading, Between that of single readings by different measurers.
	TEM      stats.Estimate `json:"tem_mm"`
	Relative stats.Estimate `json:"relative_tem"`
	Between  stats.Estimate `json:"between_tem_mm"`
	// Reliability is the coefficient of reliability of first readings by different measurers.
	Reliability stats.Estimate `json:"reliability"`
	ICC         stats.Estimate `json:"icc"`
	// Forms are the six intraclass correlations of the session in which most people took
	// most legs, all of them all, by the means of their trials; Session names it.
	Session string           `json:"icc_session"`
	Forms   stats.Intraclass `json:"icc_forms"`
	// Bias is the measurers' mean difference from the instructor.
	Bias      stats.Estimate `json:"bias_mm"`
	Tolerance Tolerance      `json:"tolerance"`
	Within    string         `json:"within_tolerance"`
	// Kept is what the shop's own boots tolerated: how far the numbers of one person's forms
	// lay apart (as a standard deviation) where two pairs were both kept. n counts
	// the feet or legs.
	Kept stats.Estimate `json:"kept_mm"`
}

// Components are the standard deviations of a reading's parts.
type Components struct {
	Point  string      `json:"point"`
	Height stats.Value `json:"height"`
	// Measurer: how far measurers differ on every leg alike. Subject: how far legs
	// differ. MeasurerOnLeg: what a measurer does on one leg each time and not on
	// another, as from taping at another height. Trial: what is new each time.
	Measurer      stats.Estimate `json:"measurer_mm"`
	Subject       stats.Estimate `json:"subject_mm"`
	MeasurerOnLeg stats.Estimate `json:"measurer_on_leg_mm"`
	Trial         stats.Estimate `json:"trial_mm"`
}

// Of is the study of all sessions.
func Of(repeats []Repeat) Study {
	t := sorted(repeats)
	s := Study{Measurers: len(t.by), Numbers: t.numbers, Points: []Point{}, Components: []Components{}, Habits: []Habit{}, LegsForTEM: legsForTEM(2, 1.5), Warnings: []string{}}
	spots, legs, sessions := map[Spot]bool{}, map[leg]bool{}, map[string]bool{}
	for _, r := range t.by {
		for spot, at := range r {
			spots[spot] = true
			for l := range at {
				legs[l], sessions[l.session] = true, true
			}
		}
	}
	s.Legs, s.Sessions = len(legs), len(sessions)
	if t.numbers > 0 && len(t.reference) == 0 {
		s.Warnings = append(s.Warnings, "No reading is marked as the instructor's: nothing can be said of bias.")
	}
	for _, spot := range slices.SortedFunc(maps.Keys(spots), Spot.compare) {
		p, c := t.at(spot)
		p.Kept = keptSpread(nil)
		s.Points, s.Components = append(s.Points, p), append(s.Components, c)
	}
	s.Habits = t.habits()
	return s
}

// BesideKept puts beside the study what kept boots tolerated: kept are the numbers that
// kept pairs were cut from, several a subject.
func (s *Study) BesideKept(kept []Repeat) {
	kept = slices.Clone(kept)
	for i := range kept {
		kept[i].Measurer = "kept"
	}
	at := sorted(kept).by["kept"]
	for k := range s.Points {
		p := &s.Points[k]
		spot := Spot{p.Point, float64(p.Height)}
		if !p.Height.Given() {
			spot.Height = noHeight
		}
		var apart []float64
		for _, l := range slices.SortedFunc(maps.Keys(at[spot]), leg.compare) {
			if v := at[spot][l]; len(v) > 1 {
				apart = append(apart, math.Abs(v[1]-v[0]))
			}
		}
		p.Kept = keptSpread(apart)
	}
}

// keptSpread is the standard deviation of which half of the differences between two draws
// lie further apart than the median: numbers that were slips, of which there are some on kept forms, do not
// move it. The interval is that of a median by order statistics.
func keptSpread(apart []float64) stats.Estimate {
	const method = "from the median difference of one person's forms, both pairs kept; interval by order statistics"
	n := len(apart)
	if n < leastKept {
		return stats.Missing(n, method, fmt.Sprintf("too few to tell: %d feet or legs of people with several kept pairs, %d needed", n, leastKept))
	}
	slices.Sort(apart)
	k := stats.BinomialQuantile((1-level)/2, n, 0.5)
	half := math.Sqrt2 * distuv.UnitNormal.Quantile(0.75)
	return stats.Estimate{Point: stats.Quantile7(apart, 0.5) / half, Low: apart[max(k-1, 0)] / half, High: apart[min(n-k, n-1)] / half, Level: level, N: n, Method: method}
}

// leastKept is the number of feet or legs that the spread of kept pairs is read from (judgement).
const leastKept = 10

func (t told) at(spot Spot) (Point, Components) {
	p := Point{Point: spot.Point, Height: spot.heightMM(), Tolerance: ToleranceOf(spot.Point)}
	c := Components{Point: spot.Point, Height: spot.heightMM()}
	number := map[leg]int{} // rows of the model
	var all []components.Reading
	var differences []components.Reading
	var repeated [][]float64
	first := map[leg][]float64{}
	sum := 0.0
	for who, id := range slices.Sorted(maps.Keys(t.by)) {
		legs := t.by[id][spot]
		for _, l := range slices.SortedFunc(maps.Keys(legs), leg.compare) {
			row, ok := number[l]
			if !ok {
				row = len(number)
				number[l] = row
			}
			for _, v := range legs[l] {
				all = append(all, components.Reading{Row: row, Column: who, X: []float64{1}, Y: v})
				sum += v
			}
			if len(legs[l]) > 1 {
				repeated = append(repeated, legs[l])
			}
			first[l] = append(first[l], legs[l][0])
			if ref := t.reference[spot][l]; len(ref) > 0 {
				differences = append(differences, components.Reading{Row: row, Column: who, X: []float64{1}, Y: mean(legs[l]) - mean(ref)})
			}
		}
	}
	p.N = len(all)
	p.TEM = technicalError(repeated)
	p.Relative = p.TEM.Map(func(mm float64) float64 { return mm / (sum / float64(len(all))) })
	var firsts [][]float64
	for _, l := range slices.SortedFunc(maps.Keys(first), leg.compare) {
		firsts = append(firsts, first[l])
	}
	p.Reliability = stats.Missing(len(firsts), "coefficient of reliability", tooFewLegs(len(firsts)))
	if len(firsts) >= leastLegs {
		p.Reliability = stats.Reliability(firsts, level)
	}
	p.Session, p.Forms = t.fullest(spot)
	p.Bias = meanBias(differences)
	p.Within = p.Tolerance.holds(p.Bias)

	const method = "restricted maximum likelihood"
	fit, err := components.Of(all, components.Interaction, level)
	if err != nil {
		fit, err = components.Of(all, components.Crossed, level)
	}
	if err != nil || len(number) < leastLegs {
		e := stats.Missing(len(all), method, tooFewLegs(len(number)))
		p.ICC, p.Between, c.Measurer, c.Subject, c.MeasurerOnLeg, c.Trial = e, e, e, e, e, e
		return p, c
	}
	p.ICC, p.Between = fit.ICC(), fit.Error()
	c.Measurer, c.Subject, c.MeasurerOnLeg, c.Trial = fit.Column(), fit.Row(), fit.Interaction(), fit.Trial()
	return p, c
}

// fullest gives the intraclass correlations of the session with the largest full table.
func (t told) fullest(spot Spot) (session string, forms stats.Intraclass) {
	legs := map[string]map[leg]int{} // by session, how many took each leg
	people := map[string]map[string]bool{}
	for id, r := range t.by {
		for l := range r[spot] {
			if legs[l.session] == nil {
				legs[l.session], people[l.session] = map[leg]int{}, map[string]bool{}
			}
			legs[l.session][l]++
			people[l.session][id] = true
		}
	}
	most := 0
	var best [][]float64
	for _, name := range slices.Sorted(maps.Keys(legs)) {
		var table [][]float64
		for _, l := range slices.SortedFunc(maps.Keys(legs[name]), leg.compare) {
			if legs[name][l] != len(people[name]) {
				continue
			}
			var row []float64
			for _, id := range slices.Sorted(maps.Keys(people[name])) {
				row = append(row, mean(t.by[id][spot][l]))
			}
			table = append(table, row)
		}
		if size := len(table) * len(people[name]); size > most {
			most, best, session = size, table, name
		}
	}
	return session, stats.ICC(best, level)
}

func tooFewLegs(n int) string {
	return fmt.Sprintf("too few to tell: %d legs, at least %d needed, each taken by two people or twice", n, leastLegs)
}

// meanBias is the mean of measurers' differences from the instructor: legs and
// measurers are draws, so that four measurers of sixty legs are no two hundred and forty.
func meanBias(d []components.Reading) stats.Estimate {
	const method = "mean difference from the instructor, legs and measurers as draws"
	fit, err := components.Of(d, components.Crossed, level)
	if err != nil {
		return stats.Missing(len(d), method, "too few to tell: hardly a leg that the instructor took too")
	}
	e := fit.Fixed[0]
	e.Method = method
	return e
}
