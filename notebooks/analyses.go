package notebooks

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// resampled is how often orders are resampled behind intervals that have no
// formula.
const resampled = 500

var (
	matureKey    = Key{"mature", "days after shipping from which an order is mature; 0 takes them from the reports so far"}
	resampledKey = Key{"resampled", "how often orders are resampled, 0 to 5000; 500 unless said"}
)

// Analyses are the analyses of the tool. Another one is another entry.
var Analyses = Catalogue{
	"review": {
		About: "The monthly fit review: the month, the run chart, findings, rules, orders to look at, complaints, faults, methods, and the annex.",
		Keys:  []Key{{"month", "the shipping month"}, matureKey, resampledKey},
		Parts: reviewParts(),
		Run:   reviewAnalysis,
	},
	"faults": {
		About: "Which faults of forms go with remakes, crude, stratified and adjusted.",
		Keys:  []Key{matureKey, resampledKey},
		Parts: []string{"fault-table", "findings", "ratios", "levels", "excluded", "limits", "forest"},
		Run:   faultsAnalysis,
	},
	"fault": {
		About: "One fault in depth: its row, the three levels of exposure, where its complaints sit, its orders.",
		Keys:  []Key{{"fault", "id of the fault"}, matureKey, resampledKey},
		Parts: []string{"finding", "table", "drawn", "levels", "zones", "orders"},
		Run:   faultAnalysis,
	},
	"rules": {
		About: "The scorecard of the intake rules, and whether rules in force kept their promise.",
		Keys:  []Key{matureKey, resampledKey},
		Parts: []string{"scorecard", "drawn", "since", "call-backs", "words"},
		Run:   rulesAnalysis,
	},
	"trend": {
		About: "Remakes month by month with limits, and the running sums that notice a lasting change.",
		Keys:  []Key{matureKey, resampledKey},
		Parts: []string{"months", "watch", "warnings"},
		Run:   trendAnalysis,
	},
	"measurements": {
		About: "The shop's measurements over the published ranges, and forms out of range month by month.",
		Parts: []string{"ranges", "months"},
		Run:   measurementsAnalysis,
	},
	"measurer": {
		About: "One measurer: forms, faults, remakes against what the mix of orders would give, repeats.",
		Keys:  []Key{{"measurer", "id of the measurer"}, matureKey},
		Parts: []string{"words", "remakes", "faults", "repeats", "funnel"},
		Run:   measurerAnalysis,
	},
}

// wholeKey reads a key that is a whole number from 0 to most.
func (in Input) wholeKey(key string, most, unlessGiven int) (int, error) {
	s := in.Keys[key]
	if s == "" {
		return unlessGiven, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > most {
		return 0, fmt.Errorf("%s=%s: it must be a whole number from 0 to %d", key, s, most)
	}
	return n, nil
}

// choices are the two keys that most analyses have.
func (in Input) choices() (mature, replicates int, err error) {
	if mature, err = in.wholeKey(matureKey.Name, 3650, 0); err != nil {
		return
	}
	replicates, err = in.wholeKey(resampledKey.Name, 5000, resampled)
	return
}

// seed of every bootstrap: the same book gives the same numbers.
const seed = 1

// findings are what several analyses start from.
type findings struct {
	in                 Input
	mature, replicates int
	progress           func(done, total int)
}

func (f findings) options() remakes.Options {
	return remakes.Options{MatureDays: f.mature, Replicates: f.replicates, Seed: seed, Progress: f.progress}
}

func start(in Input) (f findings, err error) {
	f.in = in
	f.mature, f.replicates, err = in.choices()
	return f, err
}

func (f findings) faults(ctx context.Context) (remakes.FaultTable, error) {
	return kept(f.in, "faults", []any{f.mature, f.replicates}, func() (remakes.FaultTable, error) {
		c, err := f.in.Source.Cohort(ctx)
		if err != nil {
			return remakes.FaultTable{}, err
		}
		d := remakes.Faults(ctx, c, f.options())
		return d, ctx.Err()
	})
}

func (f findings) trend(ctx context.Context) (remakes.Trend, error) {
	return kept(f.in, "trend", []any{f.mature, f.replicates}, func() (remakes.Trend, error) {
		c, err := f.in.Source.Cohort(ctx)
		if err != nil {
			return remakes.Trend{}, err
		}
		d := remakes.Watch(c, f.options())
		return d, ctx.Err()
	})
}

func (f findings) rules(ctx context.Context) (rules.Scorecard, error) {
	return kept(f.in, "rules", []any{f.mature, f.replicates}, func() (rules.Scorecard, error) {
		src := f.in.Source
		costs, err := src.Costs(ctx)
		if err != nil {
			return rules.Scorecard{}, err
		}
		applied, err := src.HoldFirstForms(ctx)
		if err != nil {
			return rules.Scorecard{}, err
		}
		c, err := src.Cohort(ctx)
		if err != nil {
			return rules.Scorecard{}, err
		}
		calls, err := src.CallBacks(ctx, c)
		if err != nil {
			return rules.Scorecard{}, err
		}
		d := rules.Score(ctx, c, applied, calls, rules.Options{MatureDays: f.mature, Costs: costs, Replicates: f.replicates, Seed: seed, Progress: f.progress})
		return d, ctx.Err()
	})
}

// abreast does several things at once. A panic in one is the caller's.
func abreast(things ...func() error) error {
	errs, panics := make([]error, len(things)), make([]any, len(things))
	stats.Parallel(len(things), len(things), func(k int) {
		defer func() { panics[k] = recover() }()
		errs[k] = things[k]()
	})
	for _, p := range panics {
		if p != nil {
			panic(p)
		}
	}
	return errors.Join(errs...)
}

func reviewParts() []string {
	var names []string
	for _, p := range (&review.Review{}).Parts() {
		names = append(names, p.Name)
	}
	return names
}

func reviewAnalysis(ctx context.Context, in Input) (*Output, error) {
	month, err := cohort.ParseMonth(in.Keys["month"])
	if err != nil {
		return nil, fmt.Errorf("month=%s: %w", in.Keys["month"], err)
	}
	f, err := start(in)
	if err != nil {
		return nil, err
	}
	made := review.Input{Month: month}
	if _, err = in.Source.HoldFirstForms(ctx); err != nil {
		return nil, err
	}
	if made.Cohort, err = in.Source.Cohort(ctx); err != nil {
		return nil, err
	}
	err = abreast(func() (err error) {
		made.Faults, err = f.faults(ctx)
		return err
	}, func() (err error) {
		made.Rules, err = f.rules(ctx)
		return err
	}, func() (err error) {
		if made.Trend, err = f.trend(ctx); err != nil {
			return err
		}
		if made.Spreads, err = in.Source.Spreads(ctx); err != nil {
			return err
		}
		made.RangeMonths, err = in.Source.RangeMonths(ctx)
		return err
	})
	if err != nil {
		return nil, err
	}
	r := review.Make(made)
	out := &Output{Cautions: review.Cautions, Lead: r.Lead()}
	if out.Frame, err = frameOf(made.Faults.Faults); err != nil {
		return nil, err
	}
	for _, p := range r.Parts() {
		out.Parts = append(out.Parts, Shown{p.Name, p.Blocks})
	}
	out.Values = r.Values()
	for _, s := range made.Rules.Rules {
		out.Values = append(out.Values, Words("rule."+s.ID+ruleSuffix, s.When))
	}
	return out, nil
}

// ruleValues are the numbers of the scorecard, and the conditions of the rules
// for telling later which were changed.
func ruleValues(d rules.Scorecard) []page.Value {
	out := review.RuleValues(d)
	for _, s := range d.Rules {
		out = append(out, Words("rule."+s.ID+ruleSuffix, s.When))
	}
	return out
}

// partsOf are the sections of a document as parts.
func partsOf(d *page.Document) []Shown {
	var out []Shown
	for _, s := range d.Sections {
		out = append(out, Shown{s.ID, s.Blocks})
	}
	return out
}

func faultsAnalysis(ctx context.Context, in Input) (*Output, error) {
	f, err := start(in)
	if err != nil {
		return nil, err
	}
	d, err := f.faults(ctx)
	if err != nil {
		return nil, err
	}
	p := review.FaultsPage(d)
	rows, err := frameOf(d.Faults)
	return &Output{Parts: append(partsOf(p), Shown{"forest", review.FaultForest(d)}), Values: review.FaultValues(d), Frame: rows, Cautions: p.Cautions}, err
}

func faultAnalysis(ctx context.Context, in Input) (*Output, error) {
	f, err := start(in)
	if err != nil {
		return nil, err
	}
	d, err := f.faults(ctx)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(d.Faults, func(f remakes.FaultFinding) bool { return f.Fault == in.Keys["fault"] })
	if i < 0 {
		return nil, fmt.Errorf("fault=%s: there is no such fault; %s", in.Keys["fault"], meant(in.Keys["fault"], choiceLists["faults"]()))
	}
	one := d.Faults[i]
	d.Faults = []remakes.FaultFinding{one}
	finding, ok := review.FaultAsFinding(one)
	shown := []page.Block{finding}
	if !ok {
		shown = []page.Block{page.Prose(append([]string{one.Words.Headline}, one.Warnings...))}
	}
	rows, err := frameOf(d.Faults)
	return &Output{
		Parts: []Shown{
			{"finding", shown}, {"table", review.FaultTable(d)}, {"drawn", review.FaultForest(d)}, {"levels", review.Levels(d)},
			{"zones", []page.Block{zoneTable(one)}}, {"orders", []page.Block{orderTable("orders-with-it", "Cut with the fault and remade, the newest first", one.Orders)}},
		},
		Values: ownValues(one.Fault, review.FaultValues(d)), Frame: rows, Cautions: review.Cautions[2:],
	}, err
}

// ownValues are the values of one fault without its name in front.
func ownValues(fault string, vs []page.Value) []page.Value {
	var out []page.Value
	for _, v := range vs {
		if name, ok := strings.CutPrefix(v.Name, fault+"."); ok {
			v.Name = name
			out = append(out, v)
		}
	}
	return out
}

// zoneTable holds the complaints in the fault's own zones against the others.
func zoneTable(f remakes.FaultFinding) page.Table {
	z := f.ZoneCheck
	t := page.Table{ID: "zones", Caption: "Do complaints sit where the fault can do harm?", Columns: []page.Column{
		{Key: "zones", Title: "Zones"}, {Key: "remade_with", Title: "Remade with it", Numeric: true}, {Key: "remade_without", Title: "Remade without", Numeric: true},
		{Key: "risk_ratio", Title: "Risk ratio", Numeric: true}}, Notes: []string{z.Words}}
	for _, one := range []struct {
		name string
		c    remakes.ZoneComparison
	}{{"its own", z.Own}, {"all others", z.Others}} {
		t.Rows = append(t.Rows, []page.Cell{page.Text(one.name), page.Count(one.c.RemadeWith), page.Count(one.c.RemadeWithout), page.Plain(one.c.RiskRatio, 2)})
	}
	t.Notes = append(t.Notes, page.Refusals(t.Rows)...)
	t.Total = len(t.Rows)
	return t
}

// orderTable lists orders, each opening its order.
func orderTable(id, caption string, ids []string) page.Table {
	t := page.Table{ID: id, Caption: caption, Columns: []page.Column{{Key: "order_id", Title: "order"}}, Total: len(ids)}
	for _, o := range ids {
		t.Rows = append(t.Rows, []page.Cell{{Text: o, Value: o, Ref: page.Ref{Kind: "order", IDs: []string{o}}}})
	}
	return t
}

func rulesAnalysis(ctx context.Context, in Input) (*Output, error) {
	f, err := start(in)
	if err != nil {
		return nil, err
	}
	d, err := f.rules(ctx)
	if err != nil {
		return nil, err
	}
	p := review.RulesPage(d)
	if !slices.ContainsFunc(p.Sections, func(s page.Section) bool { return s.ID == "since" }) {
		p.Sections = append(p.Sections, page.Section{ID: "since", Blocks: []page.Block{
			page.Prose{"No rule has a start day (from:) in the rules file, so there is no before and after yet."}}})
	}
	rows, err := frameOf(d.Rules)
	return &Output{Parts: append(partsOf(p), Shown{"drawn", []page.Block{review.ScorecardFigure(d)}}), Values: ruleValues(d), Frame: rows, Cautions: p.Cautions}, err
}

func trendAnalysis(ctx context.Context, in Input) (*Output, error) {
	f, err := start(in)
	if err != nil {
		return nil, err
	}
	d, err := f.trend(ctx)
	if err != nil {
		return nil, err
	}
	p := review.TrendPage(d)
	out := &Output{Parts: partsOf(p), Cautions: p.Cautions, Lead: p.Lead}
	if n := len(d.Monthly.Months); n > 0 {
		out.Values = review.MonthValues(d.Monthly, d.Monthly.Months[n-1].Month)
	}
	return out, nil
}

func measurementsAnalysis(ctx context.Context, in Input) (*Output, error) {
	spreads, err := in.Source.Spreads(ctx)
	if err != nil {
		return nil, err
	}
	months, err := in.Source.RangeMonths(ctx)
	if err != nil {
		return nil, err
	}
	out := &Output{Cautions: review.Cautions}
	for i, b := range review.Measurements(spreads, months) {
		out.Parts = append(out.Parts, Shown{[]string{"ranges", "months"}[min(i, 1)], []page.Block{b}})
	}
	judged, off := 0, 0
	for _, m := range months {
		judged, off = judged+m.Judged, off+m.Out
	}
	out.Values = []page.Value{Exact("judged", page.Thousands(judged), float64(judged), judged), {Name: "out_of_range", E: stats.Wilson(off, judged, stats.DefaultLevel)}}
	return out, nil
}
