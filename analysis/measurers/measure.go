package measurers

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/signs"
	"lastroom/analysis/stats"
)

const (
	level = stats.DefaultLevel
	// spreadScale is the scale of the half-normal prior of the spread of
	// measurers on the logit scale: half of them differ by less than 0.34 from
	// one another's mean (judgement; see stats.Hierarchy).
	spreadScale = 0.5
	// leastPower is the power at twice the expected share that "as expected"
	// takes.
	leastPower = 0.8
	// mostOfAChannel is the share of a channel's orders from which on a
	// measurer counts as alone in it (judgement).
	mostOfAChannel = 0.75
)

// Measure makes the comparison of measurers on mature orders.
func Measure(c *cohort.Cohort, o Options) Comparison {
	m := remakes.MatureAfter(c, o.MatureDays)
	expected := remakes.ExpectedByMix(c, m)
	g := gather(c, m, expected)
	d := Comparison{AsOf: c.AsOf, Maturity: m, Measurers: []Measurer{}, Newcomers: []Measurer{}, Warnings: []string{
		"A measurer who notes faults honestly shows more of them; a fault rate is no mark.",
		"Shares are drawn towards what is expected, the more the fewer orders; nobody is ranked.",
	}}
	if expected.Why != "" {
		d.Warnings = append(d.Warnings, "not adjusted for the orders' mix: "+expected.Why)
	}
	for _, k := range g.kept {
		d.MatureOrders, d.Remade = d.MatureOrders+k.n, d.Remade+k.x
		if k.n < LeastOrders {
			d.TooFew++
		}
	}
	d.Overall = remakes.Rate(d.Remade, d.MatureOrders)
	h := g.hierarchy()
	tem, habits := repeatability.ByMeasurer(o.Repeats), signs.Of(o.Forms)
	taped, onForms := repeatability.Habits(o.Repeats), faultsOfForms(c)
	// about is what is told of anybody, from the forms of these rows.
	about := func(k *tally, rows []int) Measurer {
		var all span
		for _, i := range rows {
			all.add(c, m, onForms, i)
		}
		r := Measurer{
			ID: k.id, Kind: k.kind, Region: k.region, Orders: k.n, Remade: k.x,
			Rate: remakes.Rate(k.x, k.n), Power: stats.Value(math.NaN()),
			Faults: []FaultRate{}, TEM: tem[k.id], Signs: habits[k.id], RemadeOrders: slices.Clone(k.remade), MatureOrders: remakes.Behind(c, k.rows, func(int) bool { return true }),
			PerForm: all.period().Faults, Habits: slices.DeleteFunc(slices.Clone(taped), func(h repeatability.Habit) bool { return h.Measurer != k.id }),
			Trend: trendOf(c, m, onForms, k.id, o.Trained),
		}
		if r.TEM == nil {
			r.TEM = []repeatability.Measured{}
		}
		if r.Signs == nil {
			r.Signs = []signs.Sign{}
		}
		slices.Reverse(r.RemadeOrders)
		return r
	}
	for _, k := range g.kept {
		if k.n < LeastOrders {
			continue
		}
		r := about(k, k.rows)
		k.compare(h, g.others(k), &r)
		d.Measurers = append(d.Measurers, r)
	}
	g.faults(c, &d)
	for k := range d.Measurers {
		d.Measurers[k].say(g)
	}
	d.Newcomers = g.newcomers(c, about)
	return d
}

// A tally is one measurer's orders.
type tally struct {
	id, kind, region string
	rows             []int
	n, x             int
	expected         float64
	remade           []string
	alone            []string // channels that most of the orders are from, and most of whose orders are theirs
	elsewhereN       int      // orders of other measurers in other channels
	elsewhereX       int
	group            int // in the hierarchy; -1: not compared
}

type gathered struct{ kept []*tally }

func gather(c *cohort.Cohort, m remakes.Maturity, e remakes.Expectation) gathered {
	by := make([]*tally, len(c.Measurer.Levels))
	inChannel := make([]int, len(c.Channel.Levels))
	for i := range c.Shipped {
		k := c.Measurer.Code[i]
		if k == 0 || !m.Is(c, i) {
			continue
		}
		t := by[k]
		if t == nil {
			t = &tally{id: c.Measurer.Levels[k], group: -1}
			by[k] = t
		}
		t.kind, t.region = c.MeasurerKind.At(i), c.Region.At(i)
		t.rows = append(t.rows, i)
		t.n++
		t.expected += e.ByNow[i]
		inChannel[c.Channel.Code[i]]++
		if remakes.Event(c, i) {
			t.x++
			t.remade = append(t.remade, c.OrderID[i])
		}
	}
	by = slices.DeleteFunc(by, func(t *tally) bool { return t == nil })
	slices.SortFunc(by, func(a, b *tally) int { return strings.Compare(a.id, b.id) })
	for _, t := range by {
		t.findAlone(c, inChannel)
	}
	for _, t := range by {
		for _, other := range by {
			if len(t.alone) > 0 && other != t {
				t.elsewhere(c, other)
			}
		}
	}
	return gathered{by}
}

// findAlone looks whether most of the measurer's orders come from channels in
// which nearly nobody else measures.
func (t *tally) findAlone(c *cohort.Cohort, inChannel []int) {
	own := make([]int, len(inChannel))
	for _, i := range t.rows {
		own[c.Channel.Code[i]]++
	}
	sum := 0
	var names []string
	for k, n := range own {
		if n > 0 && (inChannel[k]-n < LeastOrders || float64(n) > mostOfAChannel*float64(inChannel[k])) {
			sum += n
			names = append(names, c.Channel.Levels[k])
		}
	}
	if 2*sum > t.n {
		t.alone = names
	}
}

// elsewhere adds another measurer's orders from other channels.
func (t *tally) elsewhere(c *cohort.Cohort, other *tally) {
	for _, i := range other.rows {
		if slices.Contains(t.alone, c.Channel.At(i)) {
			continue
		}
		t.elsewhereN++
		if remakes.Event(c, i) {
			t.elsewhereX++
		}
	}
}

// hierarchy sums up all measurers that can be compared; nil where there are not
// two of them. Those with fewer than LeastOrders are left out: most are wearers
// who measured themselves once.
func (g gathered) hierarchy() *stats.Hierarchy {
	var groups []stats.Group
	for _, t := range g.kept {
		if p := t.expected / float64(t.n); len(t.alone) == 0 && t.n >= LeastOrders && p > 0 && p < 1 {
			t.group = len(groups)
			groups = append(groups, stats.BinomialGroup(t.x, t.n, p))
		}
	}
	h, err := stats.NewHierarchy(groups, spreadScale)
	if err != nil {
		for _, t := range g.kept {
			t.group = -1
		}
		return nil
	}
	return h
}

// others is the level of all measurers but t that are compared.
func (g gathered) others(t *tally) distuv.Normal {
	x, n, expected := 0, 0, 0.0
	for _, o := range g.kept {
		if o != t && o.group >= 0 {
			x, n, expected = x+o.x, n+o.n, expected+o.expected
		}
	}
	if n == 0 {
		return distuv.Normal{Sigma: 1}
	}
	all := stats.BinomialGroup(x, n, expected/float64(n))
	return distuv.Normal{Mu: all.Top, Sigma: all.Width}
}

// compare fills in what the hierarchy says of a measurer.
//
// The measurer is held against the level of all others together, beyond what
// their mixes let expect: a normal distribution on the logit scale, for their
// shares as they are (not for the measurers that the hierarchy thinks them drawn
// from, of whom a few tell little).
func (t *tally) compare(h *stats.Hierarchy, others distuv.Normal, r *Measurer) {
	const method = "hierarchical model on a grid (posterior median), adjusted for the orders' mix"
	if t.group < 0 {
		why := "not comparable: alone in the channel " + strings.Join(t.alone, ", ")
		if len(t.alone) == 0 {
			why = "not comparable: there is nobody to compare with"
		}
		e := stats.Missing(t.n, method, why)
		r.Expected, r.Share, r.Ratio, r.Verdict = e, r.Rate, e, NotComparable
		return
	}
	chance := t.expected / float64(t.n)
	share := func(effect float64) float64 { return stats.Logistic(stats.Logit(chance) + effect) }
	prior := h.Without(t.group)
	post := prior.Given(stats.BinomialGroup(t.x, t.n, chance).LogLik)
	figure := func(f func(level, effect float64) float64) stats.Estimate {
		return post.Against(others, f, level, t.n, method)
	}
	r.Share = figure(func(_, effect float64) float64 { return share(effect) })
	r.Expected = figure(func(level, _ float64) float64 { return float64(t.n) * share(level) })
	r.Ratio = figure(func(level, effect float64) float64 { return share(effect) / share(level) })
	const tail = (1 - level) / 2
	// The fewest remakes that would have been "more".
	least := sort.Search(t.n+1, func(x int) bool {
		return prior.Given(stats.BinomialGroup(x, t.n, chance).LogLik).Above(others) >= 1-tail
	})
	twice := math.Min(0.99, 2*r.Expected.Point/float64(t.n))
	r.Power = stats.Value(1 - stats.BinomialCDF(least-1, t.n, twice))
	switch above := post.Above(others); {
	case above >= 1-tail:
		r.Verdict = More
	case above <= tail:
		r.Verdict = Fewer
	case float64(r.Power) >= leastPower:
		r.Verdict = AsExpected
	default:
		r.Verdict = TooFewToTell
	}
}

// say puts a row in plain words.
func (r *Measurer) say(g gathered) {
	head := fmt.Sprintf("%d of %d orders remade", r.Remade, r.Orders)
	if r.Verdict == NotComparable {
		k := slices.IndexFunc(g.kept, func(t *tally) bool { return t.id == r.ID })
		t := g.kept[k]
		r.Words = head + "; there is nobody to compare with."
		if len(t.alone) > 0 {
			r.Words = fmt.Sprintf("%s. Measures nearly alone in the channel %s: what is the channel's doing and what is the measurer's can't be told apart. In the other channels %d of %d orders were remade.", head, strings.Join(t.alone, ", "), t.elsewhereX, t.elsewhereN)
		}
		return
	}
	head += fmt.Sprintf(", about %.1f expected of such orders", r.Expected.Point)
	ratio := fmt.Sprintf("%.1f times as many as the others would (95 %% interval %.1f to %.1f)", r.Ratio.Point, r.Ratio.Low, r.Ratio.High)
	switch r.Verdict {
	case More:
		r.Words = fmt.Sprintf("%s: more than expected, %s. Look at the forms together.", head, ratio)
	case Fewer:
		r.Words = fmt.Sprintf("%s: fewer than expected, %s. Ask what is done there.", head, ratio)
	case AsExpected:
		r.Words = fmt.Sprintf("%s: as expected, %s. Twice the share would have shown in %.0f of 100 cases.", head, ratio, 100*float64(r.Power))
	default:
		r.Words = fmt.Sprintf("%s: too few to tell, %s. Twice the share would have shown in only %.0f of 100 cases.", head, ratio, 100*float64(r.Power))
	}
}
