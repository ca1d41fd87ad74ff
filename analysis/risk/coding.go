package risk

import (
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
)

// A Case is one order as the model sees it on the day of cutting.
type Case struct {
	Received                                      cohort.Day
	Cut, First                                    []form.State // faults of the form it was or would be cut from, and of its first one, as form.Faults
	Alarm                                         float64      // alarm score of the former; NaN: not judged
	ShaftMM                                       float64      // NaN: not known
	Closure, Channel, Sock, Sex, Tucked, Orthotic string       // "": not known
	Measurer                                      string       // "": nobody named, or measured at home
	History                                       History
}

// A History is what was known of the customer's earlier pairs when the order
// came in.
type History uint8

// The histories.
const (
	FirstPair    History = iota // or none that the book knows
	OrderedAgain                // earlier pairs, none remade by then
	RemadeBefore                // an earlier pair was remade
)

// Words that stand in the kept model for what is no word of a sheet.
const (
	again, remadeBefore = "ordered before", "an earlier pair remade"
	someMended          = "a fault mended by a call-back"
	notKnown            = "unknown"
)

// A term is what the model takes from one column of the order or of the form:
// the level of a word, a curve over a number, or a place in time. Its values are
// 0 where nothing is known, which is the usual.
type term struct {
	Name    string         `json:"name"`
	Columns []string       `json:"columns"`
	Levels  map[string]int `json:"levels,omitempty"` // word to column
	Curve   *curve         `json:"curve,omitempty"`
	Clock   *clock         `json:"clock,omitempty"`
	Usual   []float64      `json:"usual"` // mean of each column over the orders of the fit
}

// A curve is a restricted cubic spline: straight beyond the outer knots, a cubic
// between. Numbers are rounded to Step, so that few are different.
//
// Harrell FE (2015) Regression Modeling Strategies, 2nd ed., section 2.4.5.
type curve struct {
	Knots   []float64 `json:"knots"` // ascending; two: a straight line
	Step    float64   `json:"step"`
	Low     float64   `json:"low"` // numbers beyond are taken as these
	High    float64   `json:"high"`
	Middle  []float64 `json:"middle"`  // taken off each column, so that 0 is the mean
	Unknown bool      `json:"unknown"` // the last column says that the number is not known
}

// at are the columns of a number.
func (c *curve) at(x float64) []float64 {
	shape := len(c.Knots) - 1
	v := make([]float64, shape, shape+1)
	if math.IsNaN(x) {
		if c.Unknown {
			v = append(v, 1)
		}
		return v
	}
	x = math.Max(c.Low, math.Min(c.High, math.Round(x/c.Step)*c.Step))
	first, last := c.Knots[0], c.Knots[len(c.Knots)-1]
	wide := last - first
	v[0] = (x - first) / wide
	cube := func(k float64) float64 { return math.Pow(math.Max(0, x-k), 3) }
	for j := 1; j < shape; j++ {
		before := c.Knots[len(c.Knots)-2]
		v[j] = (cube(c.Knots[j-1]) - cube(before)*(last-c.Knots[j-1])/(last-before) + cube(last)*(before-c.Knots[j-1])/(last-before)) / (wide * wide * wide)
	}
	for j, m := range c.Middle {
		v[j] -= m
	}
	if c.Unknown {
		v = append(v, 0)
	}
	return v
}

// A clock places the day an order was received: years since the middle of the
// time of the fit, held at its ends, and the season.
type clock struct {
	From   cohort.Day `json:"from"`
	To     cohort.Day `json:"to"`
	Season bool       `json:"season"`
}

// month is the month since From that a day counts as; a day that is not known
// as the last one.
func (c *clock) month(d cohort.Day) int {
	if !d.Known() || d > c.To {
		d = c.To
	}
	return int(max(d, c.From).Month() - c.From.Month())
}

func (c *clock) at(d cohort.Day) []float64 {
	m := c.month(d)
	v := []float64{(float64(m) - float64(c.To.Month()-c.From.Month())/2) / 12}
	if c.Season {
		// The season is that of the day itself: it comes again after the last one.
		of := m + int(c.From.Month())
		if d.Known() {
			of = int(d.Month())
		}
		angle := 2 * math.Pi * (float64(of%12) + 0.5) / 12
		v = append(v, math.Sin(angle), math.Cos(angle))
	}
	return v
}

// values are the columns of a case.
func (t *term) values(c *Case) []float64 {
	switch {
	case t.Curve != nil && t.Name == shaftHeight:
		return t.Curve.at(c.ShaftMM)
	case t.Curve != nil && t.Name == alarmScore:
		return t.Curve.at(c.Alarm)
	case t.Curve != nil:
		return t.Curve.at(float64(faultsOn(c.Cut)))
	case t.Clock != nil:
		return t.Clock.at(c.Received)
	}
	v := make([]float64, len(t.Columns))
	if k, ok := t.Levels[t.word(c)]; ok {
		v[k] = 1
	}
	return v
}

// word is the case's word for a term of levels.
func (t *term) word(c *Case) string {
	switch t.Name {
	case "closure":
		return c.Closure
	case "channel":
		return c.Channel
	case "sock":
		return c.Sock
	case "sex":
		return c.Sex
	case "tucked":
		return c.Tucked
	case "orthotic":
		return c.Orthotic
	case measuredBy:
		return c.Measurer
	case history:
		return c.History.word()
	case mended:
		if len(mendedFaults(c.Cut, c.First)) > 0 {
			return someMended
		}
	}
	return ""
}

func (h History) word() string {
	switch h {
	case OrderedAgain:
		return again
	case RemadeBefore:
		return remadeBefore
	}
	return ""
}

// Names of the terms that are no columns of the orders sheet.
const (
	shaftHeight = "shaft height"
	alarmScore  = "alarm score"
	howMany     = "number of faults"
	measuredBy  = "measurer"
	history     = "history"
	mended      = "mended"
	time        = "time"
)

// faultsOn counts the noted and counted faults that a form has.
func faultsOn(states []form.State) int {
	n := 0
	for f, s := range states {
		if s == form.With && form.Faults[f].Kind != form.Evident {
			n++
		}
	}
	return n
}

// mendedFaults are those that the first form had and the one cut from has not.
func mendedFaults(cut, first []form.State) (out []int) {
	for f, s := range cut {
		if s == form.Without && f < len(first) && first[f] == form.With {
			out = append(out, f)
		}
	}
	return out
}

// level is what the model sees of a fault: what is unknown is no "no".
func level(s form.State) regression.Level {
	switch s {
	case form.With:
		return regression.With
	case form.Unknown:
		return regression.Unknown
	case form.NotAtRisk:
		return regression.NotAtRisk
	}
	return regression.Clean
}

// What is too rare, or too many, for a column (judgement).
const (
	leastLevel    = 20 // orders of a level
	leastMeasured = 10 // orders of a measurer
	mostMeasurers = 40
)

// A coder makes the terms from the orders of a fit, and codes them.
type coder struct {
	c     *cohort.Cohort
	rows  []int
	Terms []term
	terms []regression.Term
}

// newCoder makes the terms from some rows of the cohort.
func newCoder(c *cohort.Cohort, rows []int, past []History) *coder {
	k := &coder{c: c, rows: rows}
	k.curve(shaftHeight, 5, func(i int) float64 { return c.ShaftMM[i] })
	if len(c.CutAlarm) == c.Len() {
		k.curve(alarmScore, 0.1, func(i int) float64 { return math.Min(6, c.CutAlarm[i]) })
	}
	k.line(howMany, func(i int) float64 { return float64(countOf(c, i)) })
	for _, f := range []struct {
		name   string
		factor cohort.Factor
	}{{"closure", c.Closure}, {"channel", c.Channel}, {"orthotic", c.Orthotic}, {"sex", c.Sex}, {"tucked", c.Tucked}, {"sock", c.Sock}} {
		k.factor(f.name, f.factor)
	}
	k.measurers()
	k.words(history, []string{again, remadeBefore}, func(i int) int { return int(past[i]) - 1 })
	k.words(mended, []string{someMended}, func(i int) int {
		for f := range form.Faults {
			if c.Cut[f][i] == form.Without && c.First[f][i] == form.With {
				return 0
			}
		}
		return -1
	})
	k.clock()
	return k
}

// add adds a term with its values by code, and notes their means.
func (k *coder) add(t term, values [][]float64, code func(i int) int) {
	if len(t.Columns) == 0 {
		return
	}
	t.Usual = make([]float64, len(t.Columns))
	for _, i := range k.rows {
		for j, v := range values[code(i)] {
			t.Usual[j] += v / float64(len(k.rows))
		}
	}
	k.Terms = append(k.Terms, t)
	k.terms = append(k.terms, regression.Term{Names: t.Columns, Values: values, Code: code})
}

// words adds a term of levels by their place, -1 for none; those that are too rare
// get no column.
func (k *coder) words(name string, levels []string, at func(i int) int) {
	k.levels(name, levels, at, leastLevel, len(levels))
}

func (k *coder) levels(name string, levels []string, at func(i int) int, least, most int) {
	n := make([]int, len(levels))
	for _, i := range k.rows {
		if l := at(i); l >= 0 {
			n[l]++
		}
	}
	order := make([]int, len(levels))
	for l := range order {
		order[l] = l
	}
	slices.SortStableFunc(order, func(a, b int) int { return n[b] - n[a] })
	t := term{Name: name, Levels: map[string]int{}}
	column := make([]int, len(levels))
	for r, l := range order {
		if n[l] >= least && r < most {
			word := levels[l]
			t.Levels[word] = len(t.Columns)
			t.Columns = append(t.Columns, columnName(name, word))
			column[l] = len(t.Columns)
		}
	}
	values := [][]float64{make([]float64, len(t.Columns))}
	for j := range t.Columns {
		v := make([]float64, len(t.Columns))
		v[j] = 1
		values = append(values, v)
	}
	k.add(t, values, func(i int) int {
		if l := at(i); l >= 0 {
			return column[l]
		}
		return 0
	})
}

func columnName(term, word string) string {
	switch {
	case term == history || term == mended:
		return word
	case word == "":
		return term + " " + notKnown
	}
	return term + " " + word
}

// factor gives each level but the commonest a column, what is not known among
// them.
func (k *coder) factor(name string, f cohort.Factor) {
	n := make([]int, len(f.Levels))
	for _, i := range k.rows {
		n[f.Code[i]]++
	}
	usual := 0
	for l, x := range n {
		if x > n[usual] {
			usual = l
		}
	}
	k.words(name, f.Levels, func(i int) int {
		if int(f.Code[i]) == usual {
			return -1
		}
		return int(f.Code[i])
	})
}

// measurers are those who measured enough forms; at home everyone measures for
// himself.
func (k *coder) measurers() {
	c := k.c
	if len(c.Measurer.Code) != c.Len() || len(c.MeasurerKind.Code) != c.Len() {
		return
	}
	k.levels(measuredBy, c.Measurer.Levels, func(i int) int {
		if c.Measurer.Code[i] == 0 || c.MeasurerKind.At(i) == "home" {
			return -1
		}
		return int(c.Measurer.Code[i])
	}, leastMeasured, mostMeasurers)
}

// curve adds a number as a spline with three knots at its quantiles 0.1, 0.5, 0.9
// (Harrell), as a line where there are too few different numbers.
func (k *coder) curve(name string, step float64, of func(i int) float64) {
	var known []float64
	for _, i := range k.rows {
		if x := of(i); !math.IsNaN(x) && !math.IsInf(x, 0) {
			known = append(known, math.Round(x/step)*step)
		}
	}
	if len(known) < leastLevel {
		return
	}
	slices.Sort(known)
	at := func(q float64) float64 { return known[int(q*float64(len(known)-1))] }
	c := &curve{Knots: slices.Compact([]float64{at(0.1), at(0.5), at(0.9)}), Step: step, Low: known[0], High: known[len(known)-1]}
	if len(c.Knots) < 2 {
		c.Knots = slices.Compact([]float64{c.Low, c.High})
	}
	if len(c.Knots) < 2 {
		return
	}
	t := term{Name: name, Columns: []string{name}, Curve: c}
	if len(c.Knots) > 2 {
		t.Columns = append(t.Columns, name+", bend")
	}
	distinct := slices.Compact(slices.Clone(known))
	middle := make([]float64, len(t.Columns))
	for _, x := range distinct {
		from, _ := slices.BinarySearch(known, x)
		to, _ := slices.BinarySearch(known, math.Nextafter(x, math.Inf(1)))
		for j, v := range c.at(x) {
			middle[j] += v * float64(to-from) / float64(len(known))
		}
	}
	c.Middle = middle
	if len(k.rows)-len(known) >= leastLevel {
		c.Unknown = true
		t.Columns = append(t.Columns, name+" "+notKnown)
	}
	var values [][]float64
	for _, x := range distinct {
		values = append(values, c.at(x))
	}
	values = append(values, c.at(math.NaN()))
	k.add(t, values, func(i int) int {
		x := of(i)
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return len(distinct)
		}
		x = math.Max(c.Low, math.Min(c.High, math.Round(x/step)*step))
		at, _ := slices.BinarySearch(distinct, x)
		return min(at, len(distinct)-1)
	})
}

// line adds a whole number of a few as a straight line.
func (k *coder) line(name string, of func(i int) float64) {
	most := 0.0
	for _, i := range k.rows {
		most = math.Max(most, of(i))
	}
	if most == 0 {
		return
	}
	t := term{Name: name, Columns: []string{name}, Curve: &curve{Knots: []float64{0, 1}, Step: 1, High: most}}
	var values [][]float64
	for x := range int(most) + 1 {
		values = append(values, t.Curve.at(float64(x)))
	}
	k.add(t, values, func(i int) int { return int(math.Min(most, of(i))) })
}

func (k *coder) clock() {
	if len(k.rows) == 0 {
		return
	}
	c := &clock{From: cohort.Day(math.MaxInt32), To: cohort.NoDay}
	for _, i := range k.rows {
		d := entered(k.c, i)
		c.From, c.To = min(c.From, d), max(c.To, d)
	}
	months := int(c.To.Month()-c.From.Month()) + 1
	t := term{Name: time, Clock: c}
	if months > 1 {
		t.Columns = append(t.Columns, "trend, a year")
	}
	if c.Season = months >= 24; c.Season {
		t.Columns = append(t.Columns, "season (sine)", "season (cosine)")
	}
	var values [][]float64
	for m := range months {
		values = append(values, c.at((c.From.Month() + cohort.Month(m)).First())[:len(t.Columns)])
	}
	k.add(t, values, func(i int) int { return c.month(entered(k.c, i)) })
}

// entered is the day an order was received; where that is not known, the day it
// was shipped.
func entered(c *cohort.Cohort, i int) cohort.Day {
	if d := c.Received[i]; d.Known() {
		return d
	}
	return c.Shipped[i]
}

// histories are what was known of each order's customer when it came in.
func histories(c *cohort.Cohort) []History {
	out := make([]History, c.Len())
	last := map[int32]int{} // the customer's newest row so far
	before := make([]int, c.Len())
	for i, who := range c.Customer {
		before[i] = -1
		if j, ok := last[who]; ok {
			before[i] = j
		}
		last[who] = i
		in := entered(c, i)
		for j := before[i]; j >= 0; j = before[j] {
			if c.Shipped[j] >= in {
				continue
			}
			out[i] = max(out[i], OrderedAgain)
			if r := c.Remade[j]; r.Known() && r < in {
				out[i] = RemadeBefore
				break
			}
		}
	}
	return out
}
