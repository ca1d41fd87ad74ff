package remakes

import (
	"slices"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
)

// A Mending says what mending faults on first forms would bring: the remake
// risk of a form cut as it came, less its risk without the faults that are
// mended, all other faults and the kind of boot as they are. One model of all
// faults of the catalogue, those read off the numbers among them, serves all
// questions. It is fitted on the forms cut from, and asked about first forms.
type Mending struct {
	// Why there is no model; "" if there is one.
	Why string

	c       *cohort.Cohort
	m       Maturity
	d       *regression.Design
	first   *regression.Design // the same orders, cut from their first forms
	fit     *regression.Fit
	at      *regression.Linearization
	weights regression.Weights
	all     *allForms
}

// allForms is the risk of all first forms, for the next who asks about the same ones:
// each rule does.
type allForms struct {
	mu   sync.Mutex
	held []form.State // which have a first form; nil: nobody has asked
	risk regression.Contrast
}

// NewMending fits the model.
func NewMending(c *cohort.Cohort, m Maturity) *Mending {
	k := OpenMending(c, m)
	return k.Weighed(k.d.Whole())
}

// OpenMending is without its model.
func OpenMending(c *cohort.Cohort, m Maturity) *Mending {
	k := &Mending{c: c, m: m}
	k.d, _ = newDesign(c, m, modelOptions{faults: true, together: true, time: true})
	k.first = k.d.Restate(func(e, i int) regression.Level { return exposureLevel(c.First[e][i], form.Unknown) })
	return k
}

// Design is what the model is fitted on.
func (k *Mending) Design() *regression.Design { return k.d }

// Weighed is k with the model fitted on such weights of its design, from the one that
// k has.
func (k *Mending) Weighed(w regression.Weights) *Mending {
	out := *k
	out.weights, out.all = w, &allForms{}
	f, err := k.d.Fit(regression.Columns{Exposures: true}, w, k.fit)
	if err != nil {
		out.Why = Refusal(err)
		return &out
	}
	out.fit, out.Why = f, ""
	out.at = regression.NewLinearization(regression.Model{Fit: f})
	return &out
}

// Clusters are the customers, for resampling; the influences of a contrast are
// theirs.
func (k *Mending) Clusters() int { return k.d.Clusters }

// Of is the mean fall of the risk over the first forms of mature orders when
// the held ones have those faults mended, with influences by customer. held is
// one state an order (NotAtRisk: it has no first form); lost are the faults
// that are too rare for the model, why says why there is no answer.
func (k *Mending) Of(held []form.State, faults []int) (c regression.Contrast, lost []int, why string) {
	if k.Why != "" {
		return c, nil, k.Why
	}
	off, known := make([]bool, len(form.Faults)), false
	for _, f := range faults {
		off[f] = k.d.HasColumn(f)
		known = known || off[f]
		if tooFewForModel(k.d.Levels(f), k.weights) != "" {
			lost = append(lost, f)
		}
	}
	if len(lost) == len(faults) || !known {
		return c, lost, "too few to tell: what it mends is too rare, or has too few remakes, for the model"
	}
	in := func(j int) bool { return k.mature(j) && held[k.d.Subject[j]] != form.NotAtRisk }
	on := func(j int) bool { return held[k.d.Subject[j]] == form.With }
	return k.at.Contrast(k.first, in, on, off), lost, ""
}

// Risk is the mean risk of the held first forms of mature orders, had they been
// cut as they came. There must be a model.
func (k *Mending) Risk(held []form.State) regression.Contrast {
	in := func(j int) bool { return k.mature(j) && held[k.d.Subject[j]] == form.With }
	return k.at.Contrast(k.first, in, in, nil)
}

// Caught is the share of the held first forms in the remakes of all first forms
// of mature orders, had all been cut as they came. There must be a model.
func (k *Mending) Caught(held []form.State) regression.Contrast {
	in := func(j int) bool { return k.mature(j) && held[k.d.Subject[j]] != form.NotAtRisk }
	on := func(j int) bool { return held[k.d.Subject[j]] == form.With }
	part, all := k.at.Contrast(k.first, in, on, nil), k.all.of(held, func() regression.Contrast { return k.at.Contrast(k.first, in, in, nil) })
	share := regression.Contrast{Mean: part.Mean / all.Mean, Influence: part.Influence, Wider: part.Wider}
	for c, v := range all.Influence {
		share.Influence[c] = (share.Influence[c] - share.Mean*v) / all.Mean
	}
	return share
}

func (a *allForms) of(held []form.State, work func() regression.Contrast) regression.Contrast {
	a.mu.Lock()
	defer a.mu.Unlock()
	first := func(a, b form.State) bool { return (a == form.NotAtRisk) == (b == form.NotAtRisk) }
	if a.held == nil || !slices.EqualFunc(a.held, held, first) {
		a.held, a.risk = slices.Clone(held), work()
	}
	return a.risk
}

// Resampled gives a contrast where order i comes times(i) times, of those that were
// drawn from: by the influences of its customers.
func (k *Mending) Resampled(x regression.Contrast, drawn func(i int) bool) func(times func(i int) float64) float64 {
	type customer struct {
		order     int // any of those drawn from: they come together
		influence float64
	}
	var list []customer
	seen := make([]bool, k.d.Clusters)
	for j, c := range k.d.Cluster {
		if i := int(k.d.Subject[j]); !seen[c] && drawn(i) {
			seen[c] = true
			list = append(list, customer{i, x.Influence[c]})
		}
	}
	return func(times func(i int) float64) float64 {
		v := x.Mean
		for _, c := range list {
			v += (times(c.order) - 1) * c.influence
		}
		return v
	}
}

func (k *Mending) mature(j int) bool { return k.m.Is(k.c, int(k.d.Subject[j])) }

// Policies is the table of what mending any faults on any group of first forms of
// mature orders would bring. group gives the group of an order, of so many, or
// regression.InNone; an order without a first form is regression.Outside.
func (k *Mending) Policies(groups int, group func(i int) int) *regression.Policies {
	return k.at.Policies(k.first, groups, func(j int) int {
		if !k.mature(j) {
			return regression.Outside
		}
		return group(int(k.d.Subject[j]))
	})
}

// A Target is the first forms of mature orders by what mending all their faults
// takes off their risk.
type Target struct {
	k *Mending
	g *regression.Targeting
}

// Target ranks the orders that in holds for. There must be a model.
func (k *Mending) Target(in func(i int) bool) Target {
	off := make([]bool, len(form.Faults))
	for f := range off {
		off[f] = k.d.HasColumn(f)
	}
	return Target{k, k.at.Target(k.first, func(j int) bool { return k.mature(j) && in(int(k.d.Subject[j])) }, off)}
}

// Falls are what mending takes off the risk of the first form of each order of the
// cohort; 0 where the order is not in the model.
func (t Target) Falls() []float64 {
	out := make([]float64, t.k.c.Len())
	for j, i := range t.k.d.Subject {
		out[i] = t.g.Fall(j)
	}
	return out
}

// Optimism is that of the mean fall over all first forms when those are held whose
// fall reaches each of least.
func (t Target) Optimism(parts int, part []int, least []float64) []float64 {
	return t.g.Optimism(parts, part, least)
}
