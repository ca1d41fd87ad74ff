package sensitivity

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/regression"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
)

// factors are those looked at unless the reader sets others; 0, as counted, is
// always among them.
var factors = []float64{0.5, 1, 1.5, 2, 3}

// MostFactor is how far a factor at which a conclusion turns is looked for.
const MostFactor = 10

// factorMeans says in words what a factor is.
const factorMeans = "the odds of a remake of an order of which nobody sent word, over those of a like order of which word came: 0 is as counted (silence is kept), 1 is as often as like orders with word"

const (
	shareMethod  = "orders without word counted in part as remade (mean score), logistic model of the orders with word, infinitesimal jackknife by customer and measurer"
	effectMethod = "standardised risk difference, joint model of faults and descriptors, orders without word counted in part as remade, infinitesimal jackknife by customer and measurer"
)

// Options of [Silent]. The zero value is the default.
type Options struct {
	Factors []float64 // nil: factors
	Workers int
	// Rules are those of the scorecard; Success and the like are as it was made
	// with.
	Rules rules.Options
	// SharesOnly leaves out what is moved besides the shares.
	SharesOnly bool
	Progress   func(done, total int)

	faultsOnly bool      // neither rules nor single channels, for simulations
	steps      []float64 // where turns are looked for first; nil: steps
}

// A Silence says how far word that never came could move the findings.
type Silence struct {
	AsOf         cohort.Day       `json:"as_of"`
	Maturity     remakes.Maturity `json:"maturity"`
	MatureOrders int              `json:"mature_orders"`
	Remade       int              `json:"remade"`
	// Silent are mature orders of which nobody sent word, counted as kept.
	Silent      int            `json:"silent"`
	SilentShare stats.Estimate `json:"silent_share"`
	FactorMeans string         `json:"factor_means"`
	Factors     []float64      `json:"factors"`
	Shares      []AtFactor     `json:"remake_share"`
	// MostShare is the share if all of the silent had been remade; as counted
	// is the least.
	MostShare stats.Value `json:"remake_share_at_most"`
	Channels  []Channel   `json:"channels"`
	Faults    []Moved     `json:"faults"`
	Rules     []Moved     `json:"rules"`
	Words     []string    `json:"words"`
	Warnings  []string    `json:"warnings"`
}

// AtFactor is a figure at a factor.
type AtFactor struct {
	Factor   float64        `json:"factor"`
	Estimate stats.Estimate `json:"estimate"`
}

// A Channel is the remake share of the orders measured in one way.
type Channel struct {
	Channel string     `json:"channel"`
	Orders  int        `json:"orders"`
	Remade  int        `json:"remade"`
	Silent  int        `json:"silent"`
	Shares  []AtFactor `json:"remake_share"`
}

// Moved is a fault's adjusted difference, or what a rule avoids per 100 first
// forms, at each factor.
type Moved struct {
	ID    string     `json:"id"`
	Title string     `json:"title"`
	At    []AtFactor `json:"at"`
	// Net is what 100 first forms gain by a rule; nil where costs are not known.
	Net []AtFactor `json:"net"`
	// Turns says where the conclusion turns if the factor holds for all of the
	// silent, Channels if it holds in one channel and the others are as counted.
	Turns    Turn          `json:"turns"`
	Channels []ChannelTurn `json:"by_channel"`
}

// A teller tells the findings anew with the silent remade more often.
type teller struct {
	c       *cohort.Cohort
	part    []float64 // of each order that is silent
	joint   *remakes.Joint
	spoken  *regression.Linearization // of the joint model, of orders with word
	near    remakes.Fits              // of the joint model as counted
	mending *remakes.Mending
	mended  *regression.Linearization // of the mending model, of orders with word
	table   remakes.FaultTable
	card    rules.Scorecard
	applied []rules.Applied
	o       Options
}

// Silent tells the findings of the table and the scorecard anew. applied are the
// rules the scorecard was made of. The context stops it early; the rest is then
// missing.
//
// As counted the findings stand as they were made. At a factor they have moved as
// far as their models move, and their intervals are as many times wider as those
// of the models (infinitesimal jackknife) are then.
func Silent(ctx context.Context, c *cohort.Cohort, table remakes.FaultTable, card rules.Scorecard, applied []rules.Applied, o Options) Silence {
	m := table.Maturity
	s := Silence{
		AsOf: c.AsOf, Maturity: m, FactorMeans: factorMeans, Factors: factorsOf(o.Factors),
		Shares: []AtFactor{}, Channels: []Channel{}, Faults: []Moved{}, Rules: []Moved{}, Words: []string{}, Warnings: []string{},
	}
	if o.steps == nil {
		o.steps = steps
	}
	t := teller{c: c, table: table, card: card, applied: applied, o: o}
	t.part = s.count(c, m)
	s.SilentShare = remakes.Rate(s.Silent, s.MatureOrders)
	s.MostShare = nan
	if s.MatureOrders >= remakes.LeastOrders {
		s.MostShare = stats.Value(float64(s.Remade+s.Silent) / float64(s.MatureOrders))
	}
	t.joint = remakes.NewJoint(c, m)
	var why string
	if t.spoken, why = t.ofSpoken(t.joint.Design); why != "" {
		s.Warnings = append(s.Warnings, "orders with word alone: "+why)
	}
	s.shares(t)
	if t.spoken != nil && !o.SharesOnly {
		if !o.faultsOnly {
			t.mending = remakes.OpenMending(c, m)
			if t.mended, why = t.ofSpoken(t.mending.Design()); why != "" {
				s.Warnings = append(s.Warnings, "rules: "+why)
			}
		}
		s.move(ctx, t)
	}
	s.say()
	return s
}

// count counts the mature orders, and says which part of each order is silent:
// all of a mature one without word; of a young one without word as much as it
// takes for the young to fall silent as often as the mature, the rest may still
// report.
func (s *Silence) count(c *cohort.Cohort, m remakes.Maturity) []float64 {
	part := make([]float64, c.Len())
	kept, young, youngSilent := 0, 0, 0
	for i := range c.Shipped {
		event, mature := remakes.Event(c, i), m.Is(c, i)
		silent := !event && !c.Answered[i]
		switch {
		case mature && event:
			s.Remade++
		case mature:
			kept++
		case !event:
			young++
		}
		if mature {
			s.MatureOrders++
		}
		switch {
		case silent && mature:
			s.Silent++
			part[i] = 1
		case silent:
			youngSilent++
		}
	}
	if youngSilent == 0 || kept == 0 {
		return part
	}
	stay := min(1, float64(s.Silent)/float64(kept)*float64(young)/float64(youngSilent))
	for i := range c.Shipped {
		if !m.Is(c, i) && !c.Answered[i] && !remakes.Event(c, i) {
			part[i] = stay
		}
	}
	return part
}

// factorsOf are the factors in order, 0 first.
func factorsOf(given []float64) []float64 {
	if given == nil {
		given = factors
	}
	all := append([]float64{0}, given...)
	slices.Sort(all)
	return slices.Compact(all)
}

// ofSpoken is the model of the orders of which there is word; why says why there
// is none.
func (t teller) ofSpoken(d *regression.Design) (*regression.Linearization, string) {
	f, err := d.Fit(regression.Columns{Exposures: true}, d.Only(func(k int) float64 { return 1 - t.part[d.Subject[k]] }), nil)
	if err != nil {
		return nil, remakes.Refusal(err)
	}
	return regression.NewLinearization(regression.Model{Fit: f}), ""
}

// everywhere stands for all channels at once.
const everywhere = -1

// impute puts in what the silent of a channel, a code or everywhere, would have
// had at a factor; those of other channels are as counted.
func (t teller) impute(d *regression.Design, spoken *regression.Linearization, channel int, factor float64) *regression.Imputation {
	return d.Impute(spoken, func(k int) float64 { return t.part[d.Subject[k]] }, func(k int) float64 {
		if channel != everywhere && int(t.c.Channel.Code[d.Subject[k]]) != channel {
			return 0
		}
		return factor
	})
}

// shares sets the remake share at each factor, of all and by channel.
func (s *Silence) shares(t teller) {
	d := t.joint.Design
	by := make([]Channel, len(t.c.Channel.Levels))
	mature := func(k int) bool { return s.Maturity.Is(t.c, int(d.Subject[k])) }
	for k, i := range d.Subject {
		if !mature(k) {
			continue
		}
		ch := &by[t.c.Channel.Code[i]]
		ch.Orders++
		switch {
		case remakes.Event(t.c, int(i)):
			ch.Remade++
		case t.part[i] == 1:
			ch.Silent++
		}
	}
	at := make([]*regression.Imputation, len(s.Factors))
	for k, factor := range s.Factors {
		if t.spoken != nil && factor > 0 {
			at[k] = t.impute(d, t.spoken, everywhere, factor)
		}
	}
	shares := func(remade, orders int, in func(k int) bool) (out []AtFactor) {
		for k, factor := range s.Factors {
			e := remakes.Rate(remade, orders)
			switch {
			case factor == 0 || orders < remakes.LeastOrders:
			case at[k] == nil:
				e = stats.Missing(orders, shareMethod, "too few to tell: too few remakes for a model of the orders with word")
			default:
				e = at[k].Share(in).LogitInterval(stats.DefaultLevel, orders, shareMethod)
			}
			out = append(out, AtFactor{factor, e})
		}
		return out
	}
	s.Shares = shares(s.Remade, s.MatureOrders, mature)
	for code, ch := range by {
		if ch.Orders == 0 {
			continue
		}
		if ch.Channel = t.c.Channel.Levels[code]; ch.Channel == "" {
			ch.Channel = "not known"
		}
		ch.Shares = shares(ch.Remade, ch.Orders, func(k int) bool { return mature(k) && int(t.c.Channel.Code[d.Subject[k]]) == code })
		s.Channels = append(s.Channels, ch)
	}
}

// A telling is every finding at one factor by the models alone: of the faults,
// then what the rules avoid.
type telling struct{ faults, avoidable []stats.Estimate }

// tell is at a factor for the silent of a channel. What is told as counted must be told
// first, and alone: the models of all others start from its.
func (t *teller) tell(channel int, factor float64, workers int) telling {
	d := t.joint.Design
	var out telling
	reported := d.Whole()
	effects, fits := t.joint.Effects(t.impute(d, t.spoken, channel, factor).Weights(), t.near, workers)
	if factor == 0 {
		t.near = fits
	}
	for f, e := range effects {
		arms := reported.Arms(d.Levels(f))
		if e.Why != "" {
			out.faults = append(out.faults, stats.Missing(arms.N(), effectMethod, e.Why))
			continue
		}
		// What was put in is no further evidence.
		x := e.Difference.Interval(e.Effect.Difference(), arms.N(), min(arms.A, arms.C))
		x.Method = effectMethod
		out.faults = append(out.faults, x)
	}
	if t.mended != nil {
		k := t.mending.Weighed(t.impute(t.mending.Design(), t.mended, channel, factor).Weights())
		if factor == 0 {
			t.mending = k
		}
		out.avoidable = rules.AvoidableBy(k, t.card, t.applied, t.o.Rules)
	}
	return out
}

// carried is what was found, moved as far as the model moves from as counted to
// now, its limits as many times farther off as the model's. Where nothing was
// found the model's figure stands.
func carried(found, counted, now stats.Estimate) stats.Estimate {
	if !found.Given() || !found.Bounded() || !counted.Given() || !now.Given() {
		return now
	}
	by, wider := now.Point-counted.Point, (now.High-now.Low)/(counted.High-counted.Low)
	if by == 0 && wider == 1 {
		return found
	}
	e := found
	e.Point += by
	e.Low, e.High = e.Point-wider*(found.Point-found.Low), e.Point+wider*(found.High-found.Point)
	e.Method += "; moved by: " + now.Method
	return e
}

// move sets what each finding is at each factor and where it turns.
func (s *Silence) move(ctx context.Context, t teller) {
	whole := newCourse(&t, everywhere, s.Factors)
	courses := []*course{whole}
	for code, level := range t.c.Channel.Levels {
		if !t.o.faultsOnly && slices.ContainsFunc(s.Channels, func(ch Channel) bool { return ch.Channel == level && ch.Silent > 0 && ch.Orders >= remakes.LeastOrders }) {
			courses = append(courses, newCourse(&t, code, nil))
		}
	}
	if !tellAll(ctx, courses, t.o) {
		s.Warnings = append(s.Warnings, "the run was stopped before it was through")
		return
	}
	counted := whole.told[0]
	moved := func(one Moved, judged func(telling) stats.Estimate, words conclusions) Moved {
		one.Turns = whole.turn(judged, words, true)
		one.Channels = []ChannelTurn{}
		for _, c := range courses[1:] {
			one.Channels = append(one.Channels, ChannelTurn{t.c.Channel.Levels[c.channel], c.turn(judged, words, false)})
		}
		return one
	}
	for f, x := range t.table.Faults {
		of := func(now telling) stats.Estimate { return carried(x.AdjustedRD, counted.faults[f], now.faults[f]) }
		s.Faults = append(s.Faults, moved(Moved{ID: x.Fault, Title: x.Title, At: whole.along(s.Factors, of)}, of, ofFault))
	}
	if t.mended == nil {
		return
	}
	for j, r := range t.card.Rules {
		of := func(now telling) stats.Estimate { return carried(r.Best(), counted.avoidable[j], now.avoidable[j]) }
		one := Moved{ID: r.ID, Title: r.Title, At: whole.along(s.Factors, of)}
		if !r.Net.Given() {
			s.Rules = append(s.Rules, moved(one, of, ofRule))
			continue
		}
		net := func(now telling) stats.Estimate { return t.card.NetAt(r, of(now)) }
		one.Net = whole.along(s.Factors, net)
		s.Rules = append(s.Rules, moved(one, net, ofNet))
	}
}

// say puts it in words.
func (s *Silence) say() {
	if s.Silent == 0 {
		s.Words = append(s.Words, "Of every mature order there is word.")
		return
	}
	if line := s.Sentence(); line != "" {
		s.Words = append(s.Words, line)
	}
	say := func(list []Moved, kind string) {
		var never []string
		for _, m := range list {
			switch {
			case m.Turns.Said == "":
			case m.Turns.Turns:
				s.Words = append(s.Words, fmt.Sprintf("%s: %s as counted; %s from a factor of about %.2g on.", form.Capitalised(m.Title), m.Turns.Said, m.Turns.To, float64(m.Turns.Factor)))
			default:
				never = append(never, m.Title)
			}
		}
		if len(never) > 0 {
			s.Words = append(s.Words, fmt.Sprintf("%s whose conclusion no factor up to %d turns: %s.", kind, MostFactor, strings.Join(never, ", ")))
		}
	}
	say(s.Faults, "Faults")
	say(s.Rules, "Rules")
}

// Sentence is the one for a headline; "" where there is nothing to say.
func (s Silence) Sentence() string {
	if s.Silent == 0 || !s.SilentShare.Given() {
		return ""
	}
	line := fmt.Sprintf("For %.0f of 100 mature orders nobody sent word; they count as kept.", 100*s.SilentShare.Point)
	counted := s.Shares[0].Estimate
	k := slices.IndexFunc(s.Shares, func(a AtFactor) bool { return a.Factor == 1 })
	if k < 0 || !s.Shares[k].Estimate.Given() || !counted.Given() {
		return line
	}
	e := s.Shares[k].Estimate
	return line + fmt.Sprintf(" Had they been remade as often as like orders of which word came, the remake share would be %.1f %% (95 %% interval %.1f to %.1f, n %d), not %.1f %%.",
		100*e.Point, 100*e.Low, 100*e.High, e.N, 100*counted.Point)
}
