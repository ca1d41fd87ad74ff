package risk

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// A Validation says how well risks came true on orders that the model had not
// seen: those received after the day on which it was fitted.
type Validation struct {
	AUC       stats.Estimate   `json:"auc"`
	Brier     stats.Estimate   `json:"brier"`
	Intercept stats.Estimate   `json:"calibration_intercept"`
	Slope     stats.Estimate   `json:"calibration_slope"`
	Orders    int              `json:"orders"`
	Remakes   int              `json:"remakes"`
	Rivals    []Rival          `json:"rivals"`
	Beats     bool             `json:"beats_rivals"`
	Parts     stats.BrierParts `json:"brier_parts"`
	Channels  []OfChannel      `json:"channels"`
	// Groups are tenths of the orders by their risk; Curve is the flexible
	// calibration curve.
	Groups []Group      `json:"groups"`
	Curve  []CurvePoint `json:"curve"`
	// Decisions are the decision curves.
	Decisions []Decision `json:"decisions"`
	// Optimism is what the model's own orders flatter it by (bootstrap by
	// customer).
	Optimism []Optimism `json:"optimism"`
	Words    []string   `json:"words"`
}

// A Rival is another way to say which orders will be remade, on the same orders.
type Rival struct {
	Rival string         `json:"rival"`
	AUC   stats.Estimate `json:"auc"`
	Brier stats.Estimate `json:"brier"`
}

// OfChannel is the validation on the orders of one channel.
type OfChannel struct {
	Channel   string         `json:"channel"`
	Orders    int            `json:"orders"`
	Remakes   int            `json:"remakes"`
	AUC       stats.Estimate `json:"auc"`
	Brier     stats.Estimate `json:"brier"`
	Intercept stats.Estimate `json:"calibration_intercept"`
	Slope     stats.Estimate `json:"calibration_slope"`
}

// A Group is orders of about the same risk.
type Group struct {
	Orders   int            `json:"orders"`
	Remakes  int            `json:"remakes"`
	Forecast stats.Value    `json:"forecast"`
	Observed stats.Estimate `json:"observed"`
}

// A CurvePoint is what share was remade of orders of a risk.
type CurvePoint struct {
	Forecast stats.Value    `json:"forecast"`
	Observed stats.Estimate `json:"observed"`
}

// An Optimism is one measure as it comes out on the orders of the fit, and what
// of that is flattery.
type Optimism struct {
	Measure   string      `json:"measure"`
	Apparent  stats.Value `json:"apparent"`
	Optimism  stats.Value `json:"optimism"`
	Corrected stats.Value `json:"corrected"`
	Resamples int         `json:"resamples"`
}

// What the rivals are called.
const (
	baseRate      = "base rate"
	countOfFaults = "count of faults"
	modelItself   = "model"
)

// Options say what to validate by.
type Options struct {
	MatureDays int
	// Held says of each row whether a rule of the shop holds its first form, HeldBy
	// which rules those are; nil: there are none.
	Held   []form.State
	HeldBy string
	// Strategies are further ways to hold forms, one state a row, for the
	// decision curves.
	Strategies []Strategy
	Success    float64 // share of call-backs that mend a form, for what is weighed
	Resamples  int     // for the optimism; 0 leaves it out
	Seed       uint64
	Workers    int
	// Fits, if set, are the models of this cohort that were fitted so far.
	Fits *Fits
}

// A Strategy is a way to hold forms: those that Held says, and, if Weighed, those of
// which a call-back can be expected to avoid as much as the threshold asks.
type Strategy struct {
	Name    string
	Held    []form.State
	Weighed bool
}

// foresight is what was foreseen of later orders.
type foresight struct {
	rows   []int
	event  []bool
	by     map[string][]float64 // by rival, as chance of a remake reported by the as-of day
	risk   []float64            // of the model, within the year
	falls  []float64            // how much lower it would be with the form mended
	rivals []string
}

const (
	// steps is how many times the model is fitted on the past, the first time when
	// so large a share of the mature orders had come in, if there were remakes
	// enough by then.
	steps, firstFit = 5, 0.35
	leastLater      = 10 // remakes among the later orders that a judgement needs
)

// validate fits the model on the past at several days and holds its risks to what
// became of the orders received after each.
func validate(ctx context.Context, c *cohort.Cohort, histories []History, whole *fitted, o Options) (Validation, error) {
	m := remakes.MatureAfter(c, o.MatureDays)
	f, err := foresee(c, histories, whole.share, m, o, true, func(i int) bool { return m.Is(c, i) })
	if err != nil || ctx.Err() != nil {
		return Validation{}, errorOr(err, ctx)
	}
	v := judge(c, f, o)
	v.Optimism, err = optimism(ctx, c, whole, m, o)
	return v, err
}

func errorOr(err error, ctx context.Context) error {
	if err != nil {
		return err
	}
	return ctx.Err()
}

// foresee gives the risks of some orders by the model of the last day before
// each was received, and, against rivals, what those would have said and what mending
// would take off.
func foresee(c *cohort.Cohort, histories []History, share []float64, m remakes.Maturity, o Options, against bool, of func(i int) bool) (*foresight, error) {
	var in []cohort.Day
	for i := range c.Shipped {
		if m.Is(c, i) {
			in = append(in, entered(c, i))
		}
	}
	slices.Sort(in)
	var days []cohort.Day
	for k := range steps {
		if len(in) > 0 {
			days = append(days, in[int((firstFit+(1-firstFit)*float64(k)/steps)*float64(len(in)-1))])
		}
	}
	days = slices.Compact(days)
	fits, errs := make([]*Model, len(days)), make([]error, len(days))
	rivals := make([][]simple, len(days))
	stats.Parallel(o.Workers, len(days), func(k int) {
		p := past{days[k]}
		if fits[k], _, errs[k] = o.Fits.model(c, histories, p); errs[k] == nil && fits[k].Why == "" && against {
			rivals[k] = rivalsOn(c, p, o)
		}
	})
	f := &foresight{by: map[string][]float64{}}
	if against {
		f.rivals = []string{baseRate, countOfFaults}
		if o.Held != nil {
			f.rivals = append(f.rivals, o.HeldBy)
		}
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	for i := range c.Shipped {
		if !of(i) {
			continue
		}
		k, found := slices.BinarySearch(days, entered(c, i))
		if !found {
			k--
		}
		if k < 0 || fits[k].Why != "" {
			continue
		}
		told := regression.ShareBy(edges, share, remakes.Age(c, i))
		x := caseOf(c, i, histories)
		r := fits[k].risk(x)
		if against {
			mended, _ := (&Learnt{Model: fits[k]}).Mended(x)
			f.falls = append(f.falls, r-fits[k].risk(mended))
		}
		f.rows, f.event = append(f.rows, i), append(f.event, remakes.Event(c, i))
		f.risk = append(f.risk, r)
		f.by[modelItself] = append(f.by[modelItself], told*r)
		for n, name := range f.rivals {
			f.by[name] = append(f.by[name], told*rivals[k][n](i))
		}
	}
	return f, nil
}

// CasesOf are the rows of a cohort as the model sees them.
func CasesOf(c *cohort.Cohort) []*Case {
	past, list := histories(c), make([]*Case, c.Len())
	for i := range list {
		list[i] = caseOf(c, i, past)
	}
	return list
}

// caseOf is a row of the cohort as the model sees it.
func caseOf(c *cohort.Cohort, i int, histories []History) *Case {
	x := &Case{Received: entered(c, i), ShaftMM: c.ShaftMM[i], Closure: c.Closure.At(i), Channel: c.Channel.At(i), Sock: c.Sock.At(i),
		Sex: c.Sex.At(i), Tucked: c.Tucked.At(i), Orthotic: c.Orthotic.At(i), Alarm: math.NaN(), History: histories[i],
		Cut: make([]form.State, len(form.Faults)), First: make([]form.State, len(form.Faults))}
	if len(c.CutAlarm) == c.Len() {
		x.Alarm = c.CutAlarm[i]
	}
	if len(c.Measurer.Code) == c.Len() && len(c.MeasurerKind.Code) == c.Len() && c.MeasurerKind.At(i) != "home" {
		x.Measurer = c.Measurer.At(i)
	}
	for f := range form.Faults {
		x.Cut[f], x.First[f] = c.Cut[f][i], c.First[f][i]
	}
	return x
}

// A simple rival says the risk of a row.
type simple func(i int) float64

// rivalsOn fits the rivals on the past.
func rivalsOn(c *cohort.Cohort, p past, o Options) []simple {
	list := []simple{
		oneColumn(c, p, 0, func(int) int { return 0 }),
		oneColumn(c, p, len(form.Faults), func(i int) int { return countOf(c, i) }),
	}
	if o.Held != nil {
		list = append(list, oneColumn(c, p, 1, func(i int) int { return int(held(o.Held[i])) }))
	}
	return list
}

func held(s form.State) float64 {
	if s == form.With {
		return 1
	}
	return 0
}

// countOf is the number of noted and counted faults of the form cut from.
func countOf(c *cohort.Cohort, i int) int {
	n := 0
	for f, x := range form.Faults {
		if x.Kind != form.Evident && c.Cut[f][i] == form.With {
			n++
		}
	}
	return n
}

// oneColumn is the logistic regression on one whole number from 0 to most; with 0
// the share alone.
func oneColumn(c *cohort.Cohort, p past, most int, of func(i int) int) simple {
	var terms []regression.Term
	if most > 0 {
		t := regression.Term{Names: []string{"number"}, Code: of}
		for v := range most + 1 {
			t.Values = append(t.Values, []float64{float64(v)})
		}
		terms = append(terms, t)
	}
	d := regression.NewDesign(subjects(c, p), terms, nil)
	f, err := d.Ridge(regression.Columns{}, d.Whole(), nil, nil)
	if err != nil {
		share := d.PooledRisk(d.Whole())
		return func(int) float64 { return share }
	}
	return func(i int) float64 {
		eta := f.Coef[0]
		if most > 0 {
			eta += f.Coef[1] * float64(of(i))
		}
		return stats.Logistic(eta)
	}
}

// judge holds what was foreseen to what came.
func judge(c *cohort.Cohort, f *foresight, o Options) Validation {
	v := Validation{Orders: len(f.rows), Remakes: remadeOf(f.event), Rivals: []Rival{}, Channels: []OfChannel{}, Groups: []Group{}, Curve: []CurvePoint{}, Decisions: []Decision{}, Optimism: []Optimism{}}
	if why := tooFewLater(v.Remakes); why != "" {
		missing := stats.Missing(v.Orders, "on later orders", why)
		v.AUC, v.Brier, v.Intercept, v.Slope = missing, missing, missing, missing
		for _, r := range f.rivals {
			v.Rivals = append(v.Rivals, Rival{r, missing, missing})
		}
		v.Words = []string{"Whether the model foresees anything can't be said: " + why + ". The usual share is shown instead of its risks."}
		return v
	}
	p := f.by[modelItself]
	whole := measure(p, f.event)
	v.AUC, v.Brier, v.Intercept, v.Slope = whole.AUC, whole.Brier, whole.Intercept, whole.Slope
	groups := stats.ForecastGroups(p, f.event, 10)
	v.Parts = stats.PartsOfBrier(groups, v.Brier.Point)
	for _, g := range groups {
		v.Groups = append(v.Groups, Group{g.N, g.Events, stats.Value(g.Forecast), stats.Wilson(g.Events, g.N, stats.DefaultLevel)})
	}
	v.Curve = curveOf(p, f.event)
	better := v.AUC.Low > 0.5
	v.Words = append(v.Words, fmt.Sprintf("Judged on %d later orders, %d of them remade.", v.Orders, v.Remakes))
	for _, r := range f.rivals {
		x := measure(f.by[r], f.event)
		if r == baseRate { // it differs by when an order was shipped, which is no foresight
			x.AUC = stats.Estimate{Point: 0.5, Low: 0.5, High: 0.5, Level: stats.DefaultLevel, N: v.Orders, Method: "equal risks tell no orders apart"}
		}
		v.Rivals = append(v.Rivals, Rival{r, x.AUC, x.Brier})
		// Which of two good forecasts has the smaller error is half chance where
		// remakes are few: only a rival that is better at both is not beaten.
		nearer, apart := x.Brier.Point <= v.Brier.Point, x.AUC.Point >= v.AUC.Point
		switch {
		case nearer && (apart || r == baseRate):
			better = false
			v.Words = append(v.Words, fmt.Sprintf("It foresees no better than the %s: mean square of the error %.4f against %.4f.", strings.TrimPrefix(r, "the "), v.Brier.Point, x.Brier.Point))
		case nearer || apart:
			v.Words = append(v.Words, fmt.Sprintf("It does not foresee better than the %s in every way: area under the ROC curve %.3f against %.3f, mean square of the error %.4f against %.4f.",
				strings.TrimPrefix(r, "the "), v.AUC.Point, x.AUC.Point, v.Brier.Point, x.Brier.Point))
		}
	}
	if !(v.AUC.Low > 0.5) {
		v.Words = append(v.Words, "It does not tell orders that will be remade from the others: the interval of the area under the ROC curve holds 0.5.")
	}
	v.Beats = better
	if better {
		v.Words = append(v.Words, "No rival foresees better: "+strings.Join(f.rivals, ", ")+".")
	} else {
		v.Words = append(v.Words, "So the usual share is shown instead of its risks.")
	}
	v.Channels = byChannel(c, f)
	v.Decisions = decisions(f, o)
	return v
}

func tooFewLater(remade int) string {
	if remade < leastLater {
		return fmt.Sprintf("too few to tell: %d remakes on orders received after a day on which the model could be fitted, %d needed", remade, leastLater)
	}
	return ""
}

func remadeOf(event []bool) (n int) {
	for _, e := range event {
		if e {
			n++
		}
	}
	return n
}

// measure are the measures of forecasts.
func measure(p []float64, event []bool) (x OfChannel) {
	x.Orders, x.Remakes = len(p), remadeOf(event)
	x.Brier = stats.Brier(p, event, stats.DefaultLevel)
	x.Intercept = stats.CalibrationInTheLarge(p, event, stats.DefaultLevel)
	x.Slope = stats.Calibrate(p, event, nil).Estimate(len(p), stats.DefaultLevel)
	d, err := stats.Discriminate(p, event)
	if err != nil {
		x.AUC = stats.Missing(len(p), "area under the ROC curve, DeLong", err.Error())
		return x
	}
	x.AUC = d.Estimate(stats.DefaultLevel)
	return x
}

func byChannel(c *cohort.Cohort, f *foresight) []OfChannel {
	out := []OfChannel{}
	for l, name := range c.Channel.Levels {
		var p []float64
		var event []bool
		for k, i := range f.rows {
			if int(c.Channel.Code[i]) == l {
				p, event = append(p, f.by[modelItself][k]), append(event, f.event[k])
			}
		}
		if len(p) == 0 {
			continue
		}
		x := measure(p, event)
		if x.Remakes < leastLater {
			m := stats.Missing(x.Orders, "on later orders", fmt.Sprintf("too few to tell: %d remakes, %d needed", x.Remakes, leastLater))
			x.AUC, x.Brier, x.Intercept, x.Slope = m, m, m, m
		}
		if x.Channel = name; name == "" {
			x.Channel = notKnown
		}
		out = append(out, x)
	}
	return out
}

// remakesAKnot is how many remakes a knot of the calibration curve needs (judgement).
const remakesAKnot = 10

// curveOf is the flexible calibration curve: the outcome on a restricted cubic
// spline of the forecast's logit with four knots, fewer where remakes are few.
//
// Austin PC, Steyerberg EW (2014) Stat Med 33:517-535; knots as in Harrell (2015).
func curveOf(p []float64, event []bool) []CurvePoint {
	logit := make([]float64, len(p))
	for i, v := range p {
		logit[i] = stats.Logit(v)
	}
	sorted := slices.Sorted(slices.Values(logit))
	at := func(q float64) float64 { return sorted[int(q*float64(len(sorted)-1))] }
	remade := remadeOf(event)
	s := regression.Subjects{N: len(p), Edges: []int{1}, Cluster: make([]int32, len(p)),
		Age: func(int) int { return 1 }, Event: func(i int) (int, bool) { return 0, event[i] }}
	// With few remakes fewer knots, and a straight line where even that has no answer.
	var spline curve
	var f *regression.Fit
	for _, q := range [][]float64{{0.05, 0.35, 0.65, 0.95}, {0.1, 0.5, 0.9}, {0.1, 0.9}} {
		spline = curve{Step: 1e-6, Low: sorted[0], High: sorted[len(sorted)-1]}
		for _, x := range q {
			spline.Knots = append(spline.Knots, at(x))
		}
		spline.Knots = slices.Compact(spline.Knots)
		if len(spline.Knots) < len(q) || remade < remakesAKnot*len(q) && len(q) > 2 {
			continue
		}
		t := regression.Term{Names: make([]string, len(spline.Knots)-1), Code: func(i int) int { return i }}
		for _, x := range logit {
			t.Values = append(t.Values, spline.at(x))
		}
		d := regression.NewDesign(s, []regression.Term{t}, nil)
		var err error
		if f, err = d.Ridge(regression.Columns{}, d.Whole(), nil, nil); err == nil {
			break
		}
		f = nil
	}
	if f == nil {
		return []CurvePoint{}
	}
	v, size := f.Covariance(), len(f.Coef)
	out := []CurvePoint{}
	const points = 40
	for k := range points + 1 {
		x := at(0.01) + (at(0.99)-at(0.01))*float64(k)/points
		row := append([]float64{1}, spline.at(x)...)
		eta, variance := dot(row, f.Coef), 0.0
		for a := range size {
			for b := range size {
				variance += row[a] * row[b] * v[a*size+b]
			}
		}
		spread := stats.Z(stats.DefaultLevel) * math.Sqrt(variance)
		out = append(out, CurvePoint{stats.Value(stats.Logistic(x)), stats.Estimate{Point: stats.Logistic(eta), Low: stats.Logistic(eta - spread), High: stats.Logistic(eta + spread),
			Level: stats.DefaultLevel, N: len(p), Method: "logistic regression on a restricted cubic spline of the forecast's logit, pointwise Wald"}})
	}
	return out
}

// manyOrders is from where a resample is one step from the whole sample's
// estimates, the penalty as it is: with so many the fit hardly moves.
const manyOrders = 20_000

// optimism is what the model's own orders flatter it by: in each resample of
// customers the model is fitted anew, and its measures on the resample are held to
// those of the same model on the orders as they are.
//
// Harrell FE, Lee KL, Mark DB (1996) Stat Med 15:361-387.
func optimism(ctx context.Context, c *cohort.Cohort, x *fitted, m remakes.Maturity, o Options) ([]Optimism, error) {
	if o.Resamples <= 0 || x.Why != "" {
		return []Optimism{}, nil
	}
	e := &resampled{x: x, spread: x.d.Spread(regression.Columns{Exposures: true}, x.d.Whole()), own: x.measurerColumns()}
	for k, row := range x.d.Subject {
		if m.Is(c, int(row)) {
			e.subject = append(e.subject, k)
			e.event = append(e.event, remakes.Event(c, int(row)))
			e.told = append(e.told, regression.ShareBy(edges, x.share, remakes.Age(c, int(row))))
		}
	}
	if len(e.subject) == 0 {
		return []Optimism{}, nil
	}
	return e.optimism(ctx, o)
}

// optimism is what is told at the function of that name.
func (e *resampled) optimism(ctx context.Context, o Options) ([]Optimism, error) {
	x := e.x
	ones := slices.Repeat([]float64{1}, len(e.subject))
	apparent := e.measures(x.fit.Coef, ones)[0]
	times := o.Resamples
	if x.Orders >= manyOrders {
		times = min(times, 40)
	}
	b := stats.Resample{Times: times, Width: len(apparent), Seed: o.Seed, Workers: o.Workers}
	reps, err := stats.Replicate(ctx, b, func() *regression.Resampler { return regression.NewResampler(x.d) },
		func(s *regression.Resampler, rng *rand.Rand, out []float64) error {
			times, w := s.DrawKept(rng, x.share)
			coef, err := e.refit(times, w)
			if err != nil {
				return err
			}
			weight := make([]float64, len(e.subject))
			for k, j := range e.subject {
				weight[k] = times[x.d.Cluster[j]]
			}
			of := e.measures(coef, weight, ones)
			for k := range out {
				out[k] = of[0][k] - of[1][k]
			}
			return nil
		})
	if err != nil {
		return nil, err
	}
	var list []Optimism
	for k, name := range []string{"auc", "brier", "calibration_slope"} {
		sum, n := 0.0, 0.0
		for _, v := range reps.Values[k] {
			if !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		list = append(list, Optimism{name, stats.Value(apparent[k]), stats.Value(sum / n), stats.Value(apparent[k] - sum/n), int(n)})
	}
	return list, nil
}

// A resampled is what a resample of the model's own orders needs.
type resampled struct {
	x       *fitted
	spread  []float64
	own     []int
	subject []int // mature ones, by their place in the design
	event   []bool
	told    []float64
}

// refit gives the estimates of a resample.
func (e *resampled) refit(times []float64, w regression.Weights) ([]float64, error) {
	x := e.x
	if x.Orders >= manyOrders {
		return x.fit.Step(w), nil
	}
	f, err := x.d.Ridge(regression.Columns{Exposures: true}, w, x.penalty, x.fit.Coef)
	if err != nil {
		return nil, err
	}
	// The penalty is part of the model, so it is found anew, not far from the whole's.
	y := &fitted{Model: x.Model, d: x.d, fit: f, folds: regression.NewFolds(f, folds, times)}
	s := x.shrink
	s.tau = y.best(e.own, e.spread, s, []float64{s.tau / 8, s.tau / 4, s.tau / 2, s.tau, 2 * s.tau, 4 * s.tau, 8 * s.tau})
	f, err = x.d.Ridge(regression.Columns{Exposures: true}, w, s.penalty(e.spread, e.own), f.Coef)
	if err != nil {
		return nil, err
	}
	return f.Coef, nil
}

// measures are the area under the ROC curve, the Brier score and the calibration
// slope of estimates on the subjects, for each way in which they may count.
func (e *resampled) measures(coef []float64, weights ...[]float64) (out [][]float64) {
	d, p := e.x.d, make([]float64, len(e.subject))
	risk := e.x.fit.Risks(coef)
	for k, j := range e.subject {
		p[k] = e.told[k] * risk[d.Pattern(j)]
	}
	order := stats.Order(p)
	for _, weight := range weights {
		brier, n := 0.0, 0.0
		for k, w := range weight {
			y := 0.0
			if e.event[k] {
				y = 1
			}
			brier, n = brier+w*(p[k]-y)*(p[k]-y), n+w
		}
		out = append(out, []float64{stats.WeightedAUC(p, e.event, weight, order), brier / n, stats.Calibrate(p, e.event, weight).Slope})
	}
	return out
}
