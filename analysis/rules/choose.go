package rules

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// ChooseOptions say what a set of rules is chosen for. MatureDays, Success, Costs,
// Seed, Workers and Progress are those of [Options]; Replicates is of the
// resamples that say how firmly each rule is chosen.
type ChooseOptions struct {
	Options
	CallsAMonth *float64 // how many first forms may be held a month; nil: as many as pay
	Must, Never []string // ids of rules that are chosen in any case, or in none
	// Model, if set, lets forms held by the risk model enter as one candidate: how
	// much lower the model says the risk of each first form would be if it were
	// mended, by row of the cohort.
	Model []float64
}

// A Choice is the set of rules that saves most.
type Choice struct {
	AsOf        cohort.Day `json:"as_of"`
	CallsAMonth *float64   `json:"calls_a_month"` // nil: no budget
	// For is what the set is best at: money, or remakes where costs are missing.
	For    string   `json:"for"`
	Chosen []string `json:"chosen"`
	Titles []string `json:"titles"`
	// HeldAMonth is the mean number of first forms held a month, a form that
	// several rules hold counted once.
	HeldAMonth stats.Estimate `json:"held_a_month"`
	// Avoided is what the set avoids per 100 first forms, less the optimism of
	// having been chosen on these same orders; Net what that gains.
	Avoided stats.Estimate `json:"avoided_per_100"`
	Net     stats.Estimate `json:"net_per_100"`
	// Apparent is Avoided with the optimism still in it.
	Apparent stats.Value `json:"apparent_avoided_per_100"`
	// Steps are the chosen rules, each with what it adds to those before it.
	Steps []Step `json:"steps"`
	// Greedy is the set that takes the next best rule each time, where it is
	// another than Chosen.
	Greedy    []string      `json:"greedy"`
	Stability []Stability   `json:"stability"` // in how many resamples each rule is chosen
	Frontier  []Frontier    `json:"frontier"`
	Band      []AtSuccess   `json:"by_success_share"`
	LeftOut   []LeftOutRule `json:"left_out"` // rules that could not be chosen, and why
	// ModelFrom is how many remakes a call-back avoids on average from where on the
	// risk model holds a form, if it is a candidate.
	ModelFrom stats.Value `json:"model_holds_from"`

	FirstForms  int      `json:"first_forms"`
	Remade      int      `json:"remade"`
	Months      int      `json:"months"`
	Success     float64  `json:"success_share"`
	SuccessFrom string   `json:"success_from"`
	Costs       Costs    `json:"costs"`
	Search      string   `json:"search"` // how the set was found
	Resamples   int      `json:"resamples"`
	Words       string   `json:"words"`
	Warnings    []string `json:"warnings"`
}

// A Step is what a rule adds when it is taken in after those before it.
type Step struct {
	Rule       string      `json:"rule"`
	Title      string      `json:"title"`
	HeldAMonth stats.Value `json:"adds_held_a_month"`
	Avoided    stats.Value `json:"adds_avoided_per_100"`
}

// Stability is the share of resamples of customers in which a rule is chosen.
type Stability struct {
	Rule  string      `json:"rule"`
	Title string      `json:"title"`
	Share stats.Value `json:"share"`
}

// A Frontier point is the best set at one number of call-backs, its figure less
// the optimism of having been chosen.
type Frontier struct {
	HeldAMonth stats.Value `json:"held_a_month"`
	Avoided    stats.Value `json:"avoided_per_100"`
	Low        stats.Value `json:"low_per_100"`
	High       stats.Value `json:"high_per_100"`
	Rules      []string    `json:"rules"`
}

// AtSuccess is what would be chosen at another success share, and what the set
// chosen now would bring at it.
type AtSuccess struct {
	Success float64        `json:"success_share"`
	Chosen  []string       `json:"chosen"`
	Avoided stats.Estimate `json:"avoided_per_100"`
	Net     stats.Estimate `json:"net_per_100"`
}

// A LeftOutRule could not be chosen.
type LeftOutRule struct {
	Rule string `json:"rule"`
	Why  string `json:"why"`
}

const (
	chosenMethod = "fall of the standardised risk of held first forms with what any chosen rule mends mended x success, each form once, joint model of all faults and the kind of boot, less the optimism of the choice (tenfold cross-fitting by customer); infinitesimal jackknife by customer and measurer, for as many orders again"
	chosenNet    = "avoided remakes x cost of a remake - call-backs x their cost and days, per 100 first forms"
	// mostCandidates is how many rules a choice is made among, a bit each.
	mostCandidates = 64
	// folds and rounds of the cross-fitting behind the optimism (judgement; the
	// simulation of choices shows what they give).
	folds, rounds = 10, 5
	// enoughForShare is how many resamples say in how many of 100 a rule is chosen.
	enoughForShare = 100
	// frontierSteps is how many numbers of call-backs the frontier is drawn for.
	frontierSteps = 12
)

// A chooser is a choice being made.
type chooser struct {
	*scorer
	*cover
	o        ChooseOptions
	d        *Choice
	rules    []Rule // the candidates
	must     []int
	groupOf  []int32 // by order
	table    *regression.Policies
	falls    regression.Falls
	done     success
	call     float64 // what a call-back costs with the days it takes
	optimism float64 // of the choice, per first form

	model    int     // place of the risk model among the candidates; -1: it is none
	flatters float64 // optimism of picking as many forms by a model as it picks
}

// Choose finds the set of rules that saves most on the first forms of mature
// orders. Ids in Must and Never must be those of rules.
func Choose(ctx context.Context, c *cohort.Cohort, applied []Applied, calls []Call, o ChooseOptions) Choice {
	k, why := newChooser(c, applied, calls, o)
	if why != "" {
		return k.d.refuse(why)
	}
	set, a := k.settle(ctx)
	k.d.Steps = k.steps(set, a)
	k.stability(ctx)
	k.frontier(ctx)
	k.band(set)
	k.d.Words = k.say()
	return *k.d
}

// newChooser lays out what the choice is made on, or says why there can be none.
func newChooser(c *cohort.Cohort, applied []Applied, calls []Call, o ChooseOptions) (k *chooser, why string) {
	m := remakes.MatureAfter(c, o.MatureDays)
	k = &chooser{scorer: newScorer(c, m, calls), o: o, model: -1}
	l := k.ledger(calls)
	k.done = successOf(o.Options, l)
	k.d = &Choice{AsOf: c.AsOf, CallsAMonth: o.CallsAMonth, For: "money", Months: k.months, Costs: o.Costs, ModelFrom: stats.Value(math.NaN()),
		Success: k.done.share, SuccessFrom: k.done.from,
		Chosen: []string{}, Titles: []string{}, Steps: []Step{}, Greedy: []string{}, Stability: []Stability{}, Frontier: []Frontier{}, Band: []AtSuccess{}, LeftOut: []LeftOutRule{}, Warnings: []string{}}
	for _, i := range k.rows {
		if hasForm(applied, i) {
			k.d.FirstForms++
			if remakes.Event(c, i) {
				k.d.Remade++
			}
		}
	}
	if why := k.price(l); why != "" {
		return k, why
	}
	k.mending = remakes.NewMending(c, m)
	if k.mending.Why != "" {
		return k, k.mending.Why
	}
	if o.Model != nil {
		applied = append(slices.Clone(applied), k.modelRule(applied))
	}
	candidates := k.candidates(applied)
	if len(candidates) == 0 {
		return k, "no rule holds enough forms to be judged"
	}
	k.layOut(candidates)
	return k, ""
}

// refuse says why there is no choice.
func (d Choice) refuse(why string) Choice {
	d.HeldAMonth = stats.Missing(d.Months, "mean a month", why)
	d.Avoided, d.Net = stats.Missing(d.FirstForms, chosenMethod, why), stats.Missing(d.FirstForms, chosenNet, why)
	d.Apparent, d.ModelFrom = stats.Value(math.NaN()), stats.Value(math.NaN())
	d.Words = "No set of rules can be chosen: " + why + "."
	return d
}

// price settles what the set is to be best at, or says what is missing.
func (k *chooser) price(l Ledger) (why string) {
	c := k.o.Costs
	if c.Remake == nil || c.Callback == nil {
		k.d.For = "remakes"
		if k.o.CallsAMonth == nil {
			return "what a remake and a call-back cost is not given, nor how many calls a month can be made; give either (--cost-remake and --cost-callback, a costs sheet, or --calls-a-month)"
		}
		return ""
	}
	k.call, _ = callCost(c, l)
	if c.DayOfDelay != nil && !l.MeanDays.Given() {
		k.d.Warnings = append(k.d.Warnings, noDelay)
	}
	return ""
}

// candidates are the rules that can be judged and were not ruled out.
func (k *chooser) candidates(applied []Applied) (list []Applied) {
	leave := func(r Rule, why string) { k.d.LeftOut = append(k.d.LeftOut, LeftOutRule{r.ID, why}) }
	for _, a := range applied {
		switch must, few := slices.Contains(k.o.Must, a.ID), tooFew(k.of(a.Held)); {
		case slices.Contains(k.o.Never, a.ID):
			leave(a.Rule, "ruled out (--never)")
		case few != "" && !must:
			leave(a.Rule, few)
		case len(list) == mostCandidates:
			leave(a.Rule, fmt.Sprintf("a choice is made among %d rules at most, the first in the file", mostCandidates))
		default:
			list = append(list, a)
		}
	}
	return list
}

// layOut puts first forms in groups and makes the table of falls.
func (k *chooser) layOut(list []Applied) {
	type key struct {
		held uint64
		with uint32
	}
	at := map[key]int{}
	var groups []key
	group := slices.Repeat([]int32{regression.InNone}, k.c.Len())
	for _, i := range k.rows {
		if !hasForm(list, i) {
			group[i] = regression.Outside
			continue
		}
		var one key
		for r, a := range list {
			if a.Held[i] == form.With {
				one.held |= 1 << r
			}
		}
		if one.held == 0 {
			continue
		}
		for f := range form.Faults {
			if k.c.First[f][i] == form.With {
				one.with |= 1 << f
			}
		}
		g, ok := at[one]
		if !ok {
			g = len(groups)
			at[one] = g
			groups = append(groups, one)
		}
		group[i] = int32(g)
	}
	k.groupOf = group
	k.table = k.mending.Policies(len(groups), func(i int) int { return int(group[i]) })
	k.falls = k.table.Falls(nil)
	k.cover = &cover{first: k.table.First, parts: make([][]part, len(list))}
	for r, a := range list {
		k.rules = append(k.rules, a.Rule)
		if a.ID == ModelID && k.o.Model != nil {
			k.model = r
		}
		if slices.Contains(k.o.Must, a.ID) {
			k.must = append(k.must, r)
		}
		var mends uint32
		for _, f := range faultsOf(a.Rule) {
			mends |= 1 << f
		}
		for g, one := range groups {
			if one.held>>r&1 == 1 {
				k.parts[r] = append(k.parts[r], part{g, uint32(k.table.Entry(g, mends) - int(k.table.First[g]))})
			}
		}
	}
}

// aim is what is looked for at a success share and a number of forms.
func (k *chooser) aim(success, most float64) aim {
	if k.d.For == "remakes" {
		return aim{1, 0, most}
	}
	return aim{success * *k.o.Costs.Remake, k.call, most}
}

// most is how many first forms may be held in all.
func (k *chooser) most() float64 {
	if k.o.CallsAMonth == nil {
		return math.Inf(1)
	}
	return *k.o.CallsAMonth * float64(k.months)
}

func (k *chooser) ids(set []int) []string {
	ids := []string{}
	for _, r := range set {
		ids = append(ids, k.rules[r].ID)
	}
	return ids
}

// settle finds the set and what may be promised of it.
func (k *chooser) settle(ctx context.Context) (set []int, a aim) {
	d := k.d
	a = k.aim(k.done.share, k.most())
	set, exact := k.bestSet(k.falls, a, k.must)
	d.Search = fmt.Sprintf("branch and bound over %d rules: no other set of them is better", len(k.rules))
	if !exact {
		d.Search = fmt.Sprintf("branch and bound over %d rules, ended before it was through: the best set found, proven only to be no worse than taking the next best rule each time", len(k.rules))
	}
	d.Chosen = k.ids(set)
	for _, r := range set {
		d.Titles = append(d.Titles, k.rules[r].Title)
	}
	if greedy := k.greedy(k.falls, a, k.must); !sameSet(greedy, set) {
		d.Greedy = k.ids(greedy)
	}
	held, _ := k.sum(k.falls, set)
	if len(k.must) > 0 && held > k.most() {
		d.Warnings = append(d.Warnings, fmt.Sprintf("the rules that have to be chosen hold more than %.4g forms a month by themselves", *k.o.CallsAMonth))
	}
	d.HeldAMonth = aMonth(int(math.Round(held)), k.months)
	k.optimism = k.folded(ctx, rounds, a)[0] + k.modelOptimism(set)
	if k.modelOptimism(set) > 0 {
		d.Warnings = append(d.Warnings, "the risk model picks forms by the orders that it is judged on: what holding as many forms by the scorecard's own model flatters itself by is taken off too")
	}
	d.Avoided, d.Net = k.promise(set, k.done)
	contrast, _ := k.table.Contrast(k.entry(set))
	d.Apparent = stats.Value(100 * k.done.share * contrast.Mean)
	return set, a
}

func sameSet(a, b []int) bool {
	a, b = slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b))
	return slices.Equal(a, b)
}

// entry gives the entry that a set takes of each group; the first, which mends
// nothing, where it does not hold the group.
func (k *chooser) entry(set []int) func(g int) int {
	at := k.entries(set)
	return func(g int) int {
		if at[g] < 0 {
			return int(k.first[g])
		}
		return at[g]
	}
}

// promise is what a set avoids and gains per 100 first forms on as many orders
// again, at a success share.
func (k *chooser) promise(set []int, done success) (avoided, net stats.Estimate) {
	contrast, fresh := k.table.Contrast(k.entry(set))
	j := contrast.Jackknife()
	se := math.Hypot(j.SE, fresh)
	if se > 0 {
		j.Acceleration *= math.Pow(j.SE/se, 3)
	}
	j.SE = se
	avoided = k.avoided(contrast.Mean-k.optimism, j, done, set)
	held, _ := k.sum(k.falls, set)
	return avoided, k.gain(avoided, held)
}

func (k *chooser) avoided(fall float64, j regression.Jackknife, done success, set []int) stats.Estimate {
	if len(set) == 0 {
		return stats.Estimate{Level: level, N: k.d.FirstForms, Method: chosenMethod}
	}
	e := avoided(fall, j, done, k.d.FirstForms, k.fewestOf(set))
	e.Method = chosenMethod
	return e
}

// fewestOf are the remakes in the smaller group, of forms that any rule of the set
// holds and the others, that were cut as they came.
func (k *chooser) fewestOf(set []int) int {
	held := make([]bool, len(k.first))
	for g, e := range k.entries(set) {
		held[g] = e >= 0
	}
	var in, out int
	for _, i := range k.rows {
		if !k.cutFirst[i] || !remakes.Event(k.c, i) {
			continue
		}
		if g := k.groupOf[i]; g >= 0 && held[g] {
			in++
		} else if g != regression.Outside {
			out++
		}
	}
	return min(in, out)
}

// gain is what avoided remakes per 100 gain when so many first forms are held.
func (k *chooser) gain(avoided stats.Estimate, held float64) stats.Estimate {
	n := k.d.FirstForms
	if k.d.For == "remakes" {
		return stats.Missing(n, chosenNet, "what a remake and a call-back cost is not given")
	}
	spent := 100 * held / float64(n) * k.call
	e := avoided.Map(func(x float64) float64 { return x**k.o.Costs.Remake - spent })
	e.N, e.Method = n, chosenNet
	return e
}

// folded is the optimism of choices at some budgets, per first form: what the sets
// chosen on nine tenths of the customers seem to avoid there, less what they
// avoid on the other tenth, in the mean over so many rounds of ten such parts. A
// choice on all customers is less optimistic in proportion.
func (k *chooser) folded(ctx context.Context, rounds int, aims ...aim) []float64 {
	n := k.table.Clusters()
	per := make([][]float64, rounds*folds)
	stats.Parallel(k.o.Workers, rounds, func(round int) {
		part := foldsOf(n, k.o.Seed, round)
		others := make([]float64, n)
		for f := range folds {
			if ctx.Err() != nil {
				return
			}
			for c, p := range part {
				others[c] = float64(folds) / (folds - 1)
				if p == f {
					others[c] = 0
				}
			}
			seen := k.table.Falls(others)
			// What weights do is linear in them, so the part apart is what the
			// whole has over the others.
			apart := func(whole, others float64) float64 { return folds*whole - (folds-1)*others }
			for _, a := range aims {
				a.most *= seen.Total / k.falls.Total
				set, _ := k.bestSet(seen, a, k.must)
				_, there := k.sum(seen, set)
				_, whole := k.sum(k.falls, set)
				per[round*folds+f] = append(per[round*folds+f], there/seen.Total-apart(whole, there)/apart(k.falls.Total, seen.Total))
			}
		}
	})
	out := make([]float64, len(aims))
	for b := range aims {
		for _, one := range per {
			if b < len(one) {
				out[b] += one[b] / float64(len(per))
			}
		}
		out[b] = math.Max(0, out[b]) * (folds - 1) / folds
	}
	return out
}

// steps takes the chosen rules in, that one first which adds most at each step.
func (k *chooser) steps(set []int, a aim) []Step {
	out := []Step{}
	var in []int
	held, avoided := 0.0, 0.0
	for len(in) < len(set) {
		next, best := -1, math.Inf(-1)
		for _, r := range set {
			if slices.Contains(in, r) {
				continue
			}
			if v := k.value(k.falls, aim{a.perFall, a.perCall, math.Inf(1)}, append(slices.Clone(in), r)); v > best {
				next, best = r, v
			}
		}
		in = append(in, next)
		h, x := k.sum(k.falls, in)
		out = append(out, Step{k.rules[next].ID, k.rules[next].Title, stats.Value((h - held) / float64(k.months)), stats.Value(100 * k.done.share * (x - avoided) / k.falls.Total)})
		held, avoided = h, x
	}
	return out
}

// stability counts in how many resamples of customers each rule is chosen.
func (k *chooser) stability(ctx context.Context) {
	n := min(k.o.Replicates, enoughForShare)
	if n <= 0 {
		return
	}
	chosen := make([][]int, n)
	ran := make([]bool, n)
	stats.Parallel(k.o.Workers, n, func(b int) {
		if ctx.Err() != nil {
			return
		}
		weights := make([]float64, k.table.Clusters())
		stats.ResampleClusters(stats.Source(k.o.Seed, b), weights)
		f := k.table.Falls(weights)
		a := k.aim(k.done.share, k.most()*f.Total/k.falls.Total)
		chosen[b], _ = k.bestSet(f, a, k.must)
		ran[b] = true
		if k.o.Progress != nil {
			k.o.Progress(b+1, n)
		}
	})
	times := make([]int, len(k.rules))
	for b, set := range chosen {
		if ran[b] {
			k.d.Resamples++
		}
		for _, r := range set {
			times[r]++
		}
	}
	for r, rule := range k.rules {
		if k.d.Resamples > 0 {
			k.d.Stability = append(k.d.Stability, Stability{rule.ID, rule.Title, stats.Value(float64(times[r]) / float64(k.d.Resamples))})
		}
	}
	sort.SliceStable(k.d.Stability, func(i, j int) bool { return k.d.Stability[i].Share > k.d.Stability[j].Share })
}

// frontier is the best set for each of some numbers of call-backs, as far as all
// rules together go; one that avoids no more than one that holds fewer is none.
func (k *chooser) frontier(ctx context.Context) {
	all := make([]int, len(k.rules))
	for r := range all {
		all[r] = r
	}
	held, _ := k.sum(k.falls, all)
	var aims []aim
	for b := range frontierSteps {
		aims = append(aims, aim{1, 0, held * float64(b+1) / frontierSteps})
	}
	optimism := k.folded(ctx, 1, aims...)
	most := 0.0 // what no rule avoids
	if len(k.must) > 0 {
		most = math.Inf(-1)
	}
	var sets [][]int
	for b, a := range aims {
		set, _ := k.bestSet(k.falls, a, k.must)
		h, _ := k.sum(k.falls, set)
		if len(set) == 0 || h > a.most || slices.ContainsFunc(sets, func(s []int) bool { return slices.Equal(s, set) }) {
			continue
		}
		sets = append(sets, set)
		at := *k
		at.optimism = optimism[b] + k.modelOptimism(set)
		e, _ := at.promise(set, k.done)
		if !(e.Point > most) {
			continue
		}
		most = e.Point
		k.d.Frontier = append(k.d.Frontier, Frontier{stats.Value(h / float64(k.months)), stats.Value(e.Point), stats.Value(e.Low), stats.Value(e.High), k.ids(set)})
	}
}

// band chooses anew at other success shares: those that the interval of the share
// goes to, or half to all where it was given.
func (k *chooser) band(set []int) {
	low, high := 0.5, 1.0
	if spread := stats.Z(level) * k.done.se; spread > 0 {
		low, high = math.Max(0.05, k.done.share-spread), math.Min(1, k.done.share+spread)
	}
	shares := []float64{low, k.done.share, high}
	slices.Sort(shares)
	for _, share := range slices.Compact(shares) {
		other, _ := k.bestSet(k.falls, k.aim(share, k.most()), k.must)
		avoided, net := k.promise(set, success{share: share})
		k.d.Band = append(k.d.Band, AtSuccess{share, k.ids(other), avoided, net})
	}
}

// say puts the choice in words.
func (k *chooser) say() string {
	d := k.d
	within := ""
	if d.CallsAMonth != nil {
		within = fmt.Sprintf(" with at most %.4g call-backs a month", *d.CallsAMonth)
	}
	if len(d.Chosen) == 0 {
		return fmt.Sprintf("No rule is worth switching on%s: each costs more than it saves, or avoids nothing, as far as these orders tell.", within)
	}
	best := "avoid most remakes"
	if d.For == "money" {
		best = "save most"
	}
	what, hold := "These rules together", "They hold"
	if len(d.Chosen) == 1 {
		what, hold = "This one rule", "It holds"
		best = strings.Replace(strings.Replace(best, "avoid", "avoids", 1), "save", "saves", 1)
	}
	s := fmt.Sprintf("%s %s%s: %s. ", what, best, within, strings.Join(d.Titles, "; "))
	s += fmt.Sprintf("%s %.1f forms a month (a form that several hold counted once) and can be expected to avoid %.1f remakes per 100 orders (95 %% interval %.1f to %.1f), if %.0f of 100 call-backs mend the form.",
		hold, d.HeldAMonth.Point, stats.Rounded(d.Avoided.Point, 1), stats.Rounded(d.Avoided.Low, 1), stats.Rounded(d.Avoided.High, 1), 100*d.Success)
	switch {
	case !(d.Avoided.Low > 0):
		s += " It may as well be nothing."
	case !d.Net.Given():
		s += " Whether that pays the call-backs can't be told: what a remake and a call-back cost is not given."
	default:
		s += fmt.Sprintf(" 100 first forms gain %.0f (%.0f to %.0f), call-backs and delays paid.", stats.Rounded(d.Net.Point, 0), stats.Rounded(d.Net.Low, 0), stats.Rounded(d.Net.High, 0))
	}
	return s
}
