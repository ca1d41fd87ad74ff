package risk

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A Reason is what raises an order's risk, in words, and by how many remakes in
// 100 such orders: its risk less what it would be without that fault, or with the
// usual of all orders in its place. Reasons do not add up to the risk.
type Reason struct {
	Reason string  `json:"reason"`
	Points float64 `json:"points"`
	// Fault is the fault's id where it is one.
	Fault string `json:"-"`
}

// mostReasons are told.
const mostReasons = 3

// leastPoints is a reason too small to be told: under one remake in a thousand.
const leastPoints = 0.1

// all are all reasons that raise the risk, the largest first.
func (l *Learnt) all(c *Case) []Reason {
	list := []Reason{}
	if !l.Shown() {
		return list
	}
	m := l.Model
	x := m.row(c)
	eta := dot(m.Coef, x)
	add := func(words, fault string, part float64) {
		if points := 100 * (stats.Logistic(eta) - stats.Logistic(eta-part)); points >= leastPoints {
			list = append(list, Reason{words, points, fault})
		}
	}
	one := 0.0 // what one more fault adds, whichever it is
	for k, t := range m.Terms {
		at := m.first[k]
		part := 0.0
		for j := range t.Columns {
			part += m.Coef[at+j] * (x[at+j] - t.Usual[j])
		}
		switch {
		case t.Name == howMany:
			one = m.Coef[at]
		case t.Levels != nil && (t.Name == mended || t.Name == measuredBy) && t.word(c) == "":
			// That nothing was mended, or nobody is named, is no reason to a person.
		default:
			add(t.words(c), "", part)
		}
	}
	for f, fault := range form.Faults {
		switch {
		case c.Cut[f] == form.With:
			part := 0.0
			if m.with[f] >= 0 {
				part = m.Coef[m.with[f]]
			}
			if fault.Kind != form.Evident {
				part += one
			}
			add(fault.Title, fault.ID, part)
		case c.Cut[f] == form.Unknown && m.unknown[f] >= 0:
			add("it is not known whether: "+fault.Title, "", m.Coef[m.unknown[f]]*(1-m.FaultUsual[f][1]))
		}
	}
	slices.SortStableFunc(list, func(a, b Reason) int { return cmp.Compare(b.Points, a.Points) })
	return list
}

// words say what a term is about in a case.
func (t *term) words(c *Case) string {
	switch t.Name {
	case shaftHeight:
		if math.IsNaN(c.ShaftMM) {
			return "the shaft height is not known"
		}
		return fmt.Sprintf("a shaft of %.4g in", c.ShaftMM/25.4)
	case alarmScore:
		if math.IsNaN(c.Alarm) {
			return "the numbers were not judged"
		}
		return fmt.Sprintf("how odd the numbers are (alarm score %.1f)", c.Alarm)
	case time:
		return "the time of the year, and the course of the years"
	case history:
		switch c.History {
		case RemadeBefore:
			return "an earlier pair of this customer was remade"
		case OrderedAgain:
			return "this customer ordered before"
		}
		return "the customer's first pair"
	case mended:
		return "a fault was mended by a call-back"
	case measuredBy:
		return "measured by " + c.Measurer
	}
	word := t.word(c)
	if word == "" {
		return t.title() + ": not known"
	}
	return t.title() + ": " + word
}

// title is the term's name in plain words.
func (t *term) title() string {
	switch t.Name {
	case "tucked":
		return "trousers worn inside"
	case "orthotic":
		return "orthotic worn"
	case "channel":
		return "measured through"
	}
	return t.Name
}

// Mended is the case with its faults mended by a call-back: what was noted,
// counted or read off the numbers is gone, the numbers are ordinary. What is
// unknown stays so.
func (l *Learnt) Mended(c *Case) (after *Case, changed bool) {
	d := *c
	d.Cut, d.First = slices.Clone(c.Cut), slices.Clone(c.First)
	for f, s := range d.Cut {
		if s == form.With {
			d.Cut[f], d.First[f] = form.Without, form.With
			changed = true
		}
	}
	if usual, ok := l.Model.usualAlarm(); ok && d.Alarm > usual {
		changed = changed || d.Alarm >= worthACall
		d.Alarm = usual
	}
	if !changed {
		return c, false
	}
	return &d, true
}

// worthACall is the alarm score from which numbers are asked for again though no
// fault was found: the desk's, one good form in a hundred.
const worthACall = 2

// usualAlarm is the alarm score of the middle form.
func (m *Model) usualAlarm() (float64, bool) {
	for _, t := range m.Terms {
		if t.Name == alarmScore {
			return t.Curve.Knots[len(t.Curve.Knots)/2], true
		}
	}
	return 0, false
}

// ifMended is the risk with the faults mended; where there is nothing to mend, the
// risk as it is.
func (l *Learnt) ifMended(c *Case) stats.Estimate {
	if !l.Shown() {
		return stats.Missing(l.Model.Orders, riskMethod, "no risk of the model is shown, so there is none if mended")
	}
	d, _ := l.Mended(c)
	return l.Model.estimate(d)
}

// A Price is what remakes and call-backs cost a shop, in its currency.
type Price struct {
	Remake, Call float64 // NaN: not known; Call with the days of delay
	Success      float64 // share of call-backs that mend the form
	SE           float64 // of that share
	Why          string  // in words where there is none
}

const (
	avoidsMethod = "(risk - risk if mended) x success, delta method"
	worthMethod  = "(risk - risk if mended) x success x cost of a remake - cost of a call-back, delta method"
)

// avoids is how many remakes one call-back about the case avoids on average.
func (l *Learnt) avoids(c *Case, p Price) stats.Estimate {
	if !l.Shown() {
		return stats.Missing(l.Model.Orders, avoidsMethod, "no risk of the model is shown")
	}
	d, changed := l.Mended(c)
	if !changed {
		return stats.Missing(l.Model.Orders, avoidsMethod, "there is nothing to mend")
	}
	m := l.Model
	x, y := m.row(c), m.row(d)
	a, b := stats.Logistic(dot(m.Coef, x)), stats.Logistic(dot(m.Coef, y))
	g := make([]float64, len(x))
	for j := range g {
		g[j] = a*(1-a)*x[j] - b*(1-b)*y[j]
	}
	fall, v := a-b, m.variance(g)
	se := math.Sqrt(p.Success*p.Success*v + fall*fall*p.SE*p.SE + v*p.SE*p.SE)
	point, spread := p.Success*fall, stats.Z(stats.DefaultLevel)*se
	return stats.Estimate{Point: point, Low: point - spread, High: point + spread, Level: stats.DefaultLevel, N: m.Orders, Method: avoidsMethod}
}

// worth is what a call-back that avoids so much brings in the shop's currency.
func worth(avoids stats.Estimate, p Price) stats.Estimate {
	switch {
	case !avoids.Given():
		return stats.Missing(avoids.N, worthMethod, avoids.Warnings...)
	case math.IsNaN(p.Remake) || math.IsNaN(p.Call):
		return stats.Missing(avoids.N, worthMethod, p.Why)
	}
	e := avoids.Map(func(x float64) float64 { return x*p.Remake - p.Call })
	e.Method = worthMethod
	return e
}

// An Order is a case with what it is called and how far it has come.
type Order struct {
	ID     string
	FormID string
	Stage  Stage
	Done   bool // remade, or a year past shipping
	Case
}

// A Stage is how far an order has come.
type Stage string

// The stages.
const (
	Uncut   Stage = "uncut"
	CutOut  Stage = "cut"
	Shipped Stage = "shipped"
)

// A Report is the risks of a book's orders, with the model they come from.
type Report struct {
	AsOf       cohort.Day     `json:"as_of"`
	Model      ModelLine      `json:"model"`
	Validation Validation     `json:"validation"`
	Shown      bool           `json:"model_shown"`
	BaseRate   stats.Estimate `json:"base_rate"`
	Orders     []OrderRisk    `json:"orders"`
	Kept       []Version      `json:"versions"`
}

// A ModelLine is the model in short.
type ModelLine struct {
	Version int        `json:"version"`
	AsOf    cohort.Day `json:"as_of"` // the day it was fitted as of
	Orders  int        `json:"orders"`
	Remakes int        `json:"remakes"`
	Terms   []TermLine `json:"terms"`
	Why     string     `json:"why"`
	// Effective columns, penalty and spread as in Model.
	Effective stats.Value `json:"effective_terms"`
	Penalty   stats.Value `json:"penalty"`
	Spread    stats.Value `json:"measurer_spread"`
}

// A TermLine is one column: its coefficient on the logit scale, and what it adds
// to 100 orders of the usual risk.
type TermLine struct {
	Term        string  `json:"term"`
	Coefficient float64 `json:"coefficient"`
	Points      float64 `json:"points"`
}

// A Version is a model that was kept.
type Version struct {
	Version  int        `json:"version"`
	AsOf     cohort.Day `json:"as_of"`
	BookHash string     `json:"book_hash"`
}

// An OrderRisk is the risk of one order as seen on the day of cutting.
type OrderRisk struct {
	OrderID  string         `json:"order_id"`
	FormID   string         `json:"form_id"`
	Stage    Stage          `json:"stage"`
	Risk     stats.Estimate `json:"risk"`
	Reasons  []Reason       `json:"reasons"`
	IfMended stats.Estimate `json:"if_mended"`
	// Avoids is how many remakes a call-back about it avoids on average, Worth what
	// that brings.
	Avoids stats.Estimate `json:"call_back_avoids"`
	Worth  stats.Estimate `json:"call_back_worth"`
	// ByFault is what each fault of the form adds, in remakes per 100.
	ByFault map[string]float64 `json:"-"`
}

// Of is all that is said of one case.
func (l *Learnt) Of(c *Case, p Price) OrderRisk {
	list, by := l.all(c), map[string]float64{}
	for _, r := range list {
		if r.Fault != "" {
			by[r.Fault] = r.Points
		}
	}
	avoids := l.avoids(c, p)
	return OrderRisk{Risk: l.risk(c), Reasons: list[:min(mostReasons, len(list))], IfMended: l.ifMended(c), Avoids: avoids, Worth: worth(avoids, p), ByFault: by}
}

// ReportOn is the report on some orders, the highest risk first.
func (l *Learnt) ReportOn(asOf cohort.Day, orders []Order, p Price) Report {
	r := Report{AsOf: asOf, Model: l.line(), Validation: l.Validation, Shown: l.Shown(), BaseRate: l.BaseRate, Orders: []OrderRisk{}, Kept: []Version{}}
	for i := range orders {
		o := l.Of(&orders[i].Case, p)
		o.OrderID, o.FormID, o.Stage = orders[i].ID, orders[i].FormID, orders[i].Stage
		r.Orders = append(r.Orders, o)
	}
	slices.SortStableFunc(r.Orders, func(a, b OrderRisk) int {
		return cmp.Or(cmp.Compare(b.Risk.Point, a.Risk.Point), cmp.Compare(a.OrderID, b.OrderID))
	})
	return r
}

func (l *Learnt) line() ModelLine {
	m := l.Model
	line := ModelLine{Version: l.Version, AsOf: l.AsOf, Orders: m.Orders, Remakes: m.Remakes, Terms: []TermLine{}, Why: m.Why,
		Effective: stats.Value(m.Effective), Penalty: stats.Value(m.Shrunk), Spread: stats.Value(m.Measurers)}
	usual := stats.Logit(m.Rate)
	for j, b := range m.Coef {
		t := TermLine{Term: m.Names[j], Coefficient: b}
		if j > 0 {
			t.Points = 100 * (stats.Logistic(usual+b) - m.Rate)
		}
		line.Terms = append(line.Terms, t)
	}
	return line
}
