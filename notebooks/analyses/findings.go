package analyses

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/measurers"
	"lastroom/analysis/monitoring"
	"lastroom/analysis/nearest"
	"lastroom/analysis/remakes"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
)

// Findings are the tool's main analyses over one state of the book, each made
// once and kept on the shelf of the input, whether a notebook asks or a command.
type Findings struct {
	notebooks.Input
	MatureDays int // 0: from the data
	Replicates int // of the bootstrap; 0: without
	// HoldShare is how many of the first forms the desk may hold; 0: as many as pay.
	HoldShare float64
	// Progress, if set, is told of replicates done, from several goroutines.
	Progress func(done, total int)
}

// findingsOf are the findings as the keys of a cell ask for them.
func findingsOf(in notebooks.Input) (f Findings, err error) {
	f.Input = in
	if f.MatureDays, err = wholeKey(in, matureKey.Name, 3650, 0); err != nil {
		return f, err
	}
	f.Replicates, err = wholeKey(in, resampledKey.Name, 5000, resampled)
	return f, err
}

// wholeKey reads a key that is a whole number from 0 to most.
func wholeKey(in notebooks.Input, key string, most, unlessGiven int) (int, error) {
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

// kept is a finding as it was computed before from the same book, day, program
// and options, or computed now.
func kept[T any](f Findings, name string, options []any, compute func() (T, error)) (T, error) {
	return cache.Of(f.Keep.Dir, f.Keep.Key(name, fmt.Sprint(options...)), compute)
}

// keptOfBook is kept, for what asks nothing of the shop's rules and costs: a changed
// rule leaves it as it is.
func keptOfBook[T any](f Findings, name string, options []any, compute func() (T, error)) (T, error) {
	return cache.Of(f.KeepBook.Dir, f.KeepBook.Key(name, fmt.Sprint(options...)), compute)
}

// seed of every bootstrap: the same book gives the same numbers.
const seed = 1

func (f Findings) options() remakes.Options {
	return remakes.Options{MatureDays: f.MatureDays, Replicates: f.Replicates, Seed: seed, Progress: f.Progress}
}

// Faults says which faults go with remakes.
func (f Findings) Faults(ctx context.Context) (remakes.FaultTable, error) {
	return keptOfBook(f, "faults", []any{f.MatureDays, f.Replicates}, func() (remakes.FaultTable, error) {
		c, err := f.Source.Cohort(ctx)
		if err != nil {
			return remakes.FaultTable{}, err
		}
		return remakes.Faults(ctx, c, f.options()), ctx.Err()
	})
}

// AdvisedFaults are the faults with what to do about each finding as the scorecard
// of the rules bears it out: the words of the review, wherever faults are shown. Where
// nothing is found no scorecard is made; where the rules can't be worked out the
// faults are told all the same, and that is said.
func (f Findings) AdvisedFaults(ctx context.Context) (remakes.FaultTable, error) {
	_, unruly := f.Source.HoldFirstForms(ctx) // reads the cohort too, in one pass
	table, err := f.Faults(ctx)
	if err != nil || !slices.ContainsFunc(table.Faults, func(f remakes.FaultFinding) bool { return f.Finding }) {
		return table, err
	}
	if unruly != nil {
		table.Limits = append(slices.Clone(table.Limits), fmt.Sprintf("The rules can't be worked out, so what to do about a finding is not said: %v", unruly))
		return table, nil
	}
	card, err := f.Rules(ctx)
	return rules.Advised(table, card), err
}

// Trend is the monitored series.
func (f Findings) Trend(ctx context.Context) (monitoring.Trend, error) {
	return keptOfBook(f, "trend", []any{f.MatureDays, f.Replicates}, func() (monitoring.Trend, error) {
		c, err := f.Source.Cohort(ctx)
		if err != nil {
			return monitoring.Trend{}, err
		}
		return monitoring.Watch(c, f.options()), ctx.Err()
	})
}

// Rules is the scorecard of the source's rules.
func (f Findings) Rules(ctx context.Context) (rules.Scorecard, error) {
	return kept(f, "rules", []any{f.MatureDays, f.Replicates, f.HoldShare}, func() (rules.Scorecard, error) {
		var o rules.Options
		c, applied, calls, err := f.rulesAndCalls(ctx, &o)
		if err != nil {
			return rules.Scorecard{}, err
		}
		if o.Desk, err = f.Source.HoldDesk(ctx, f.HoldShare); err != nil {
			return rules.Scorecard{}, err
		}
		o.HoldShare = f.HoldShare
		return rules.Score(ctx, c, applied, calls, o), ctx.Err()
	})
}

// Choose finds the set of the source's rules that saves most, with the risk model
// as one more candidate if that is asked for. Ids that are none are refused.
func (f Findings) Choose(ctx context.Context, o rules.ChooseOptions, withModel bool) (rules.Choice, error) {
	for _, id := range slices.Concat(o.Must, o.Never) {
		if err := knownRule(f.Source.Rules(), id); err != nil {
			return rules.Choice{}, err
		}
	}
	for _, id := range o.Must {
		if slices.Contains(o.Never, id) {
			return rules.Choice{}, fmt.Errorf("rule %q can't be both in every set and in none", id)
		}
	}
	most := "none"
	if o.CallsAMonth != nil {
		most = fmt.Sprint(*o.CallsAMonth)
	}
	return kept(f, "choose", []any{f.MatureDays, f.Replicates, most, o.Success, o.Must, o.Never, withModel}, func() (rules.Choice, error) {
		c, applied, calls, err := f.rulesAndCalls(ctx, &o.Options)
		if err != nil {
			return rules.Choice{}, err
		}
		if withModel {
			learnt, err := f.Source.Risks(ctx)
			if err != nil {
				return rules.Choice{}, err
			}
			if !learnt.Shown() {
				return rules.Choice{}, errors.New("the risk model can't be a candidate: it is not shown on this book, where simpler ways do as well or remakes are too few; lastroom risk says which")
			}
			o.Model = learnt.FallsOfFirst(c)
		}
		return rules.Choose(ctx, c, applied, calls, o), ctx.Err()
	})
}

// knownRule refuses an id that no rule has.
func knownRule(list []rules.Rule, id string) error {
	var ids []string
	for _, r := range list {
		if r.ID == id {
			return nil
		}
		ids = append(ids, r.ID)
	}
	if near := nearest.Name(id, ids); near != "" {
		return fmt.Errorf("there is no rule %q; did you mean %q?", id, near)
	}
	return fmt.Errorf("there is no rule %q; the rules are %s", id, strings.Join(ids, ", "))
}

// Try scores a rule beside those there are, which it need not be among; success 0 is
// the book's own.
func (f Findings) Try(ctx context.Context, tried rules.Rule, success float64) (rules.Trial, error) {
	return kept(f, "try", []any{f.MatureDays, tried, success}, func() (rules.Trial, error) {
		also, err := f.Source.HoldAlso(ctx, tried)
		if err != nil {
			return rules.Trial{}, err
		}
		o := rules.Options{Success: success}
		c, applied, calls, err := f.rulesAndCalls(ctx, &o)
		if err != nil {
			return rules.Trial{}, err
		}
		var forms []string
		if c.AsOf.Known() {
			m := rules.LastMonth(c.AsOf)
			if forms, err = f.Source.FirstFormsHeld(ctx, tried, m.First(), m.Last()); err != nil {
				return rules.Trial{}, err
			}
		}
		o.Replicates = 0 // one condition has no rank among others
		return rules.Try(ctx, c, also, applied, calls, forms, o), ctx.Err()
	})
}

// rulesAndCalls reads what scores rest on, and fills in the options that are the
// same for all.
func (f Findings) rulesAndCalls(ctx context.Context, o *rules.Options) (*cohort.Cohort, []rules.Applied, []rules.Call, error) {
	costs, err := f.Source.Costs(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	applied, err := f.Source.HoldFirstForms(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	c, err := f.Source.Cohort(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	calls, err := f.Source.CallBacks(ctx, c)
	o.MatureDays, o.Costs, o.Replicates, o.Seed, o.Progress = f.MatureDays, costs, f.Replicates, seed, f.Progress
	return c, applied, calls, err
}

// Risks tells how the risks of past orders have come true.
func (f Findings) Risks(ctx context.Context) (risk.Course, error) {
	return keptOfBook(f, "risks", []any{f.MatureDays}, func() (risk.Course, error) {
		c, err := f.Source.Cohort(ctx)
		if err != nil {
			return risk.Course{}, err
		}
		return risk.Follow(ctx, c, risk.Options{MatureDays: f.MatureDays, Seed: seed, Fits: f.Source.Fits()})
	})
}

// ahead are the uncut orders of a high risk.
func (f Findings) ahead(ctx context.Context) ([]risk.OrderRisk, error) {
	l, err := f.Source.Risks(ctx)
	if err != nil {
		return nil, err
	}
	orders, err := f.Source.Cases(ctx, false)
	return l.Ahead(orders), err
}

// Measurers compares those who measure.
func (f Findings) Measurers(ctx context.Context) (measurers.Comparison, error) {
	return keptOfBook(f, "measurers", []any{f.MatureDays}, func() (measurers.Comparison, error) {
		c, err := f.Source.Cohort(ctx)
		if err != nil {
			return measurers.Comparison{}, err
		}
		repeats, err := f.Source.Repeats(ctx)
		if err != nil {
			return measurers.Comparison{}, err
		}
		trained, err := f.Source.Trained(ctx)
		if err != nil {
			return measurers.Comparison{}, err
		}
		forms, err := f.Source.FormsOfMeasurers(ctx)
		if err != nil {
			return measurers.Comparison{}, err
		}
		return measurers.Measure(c, measurers.Options{MatureDays: f.MatureDays, Repeats: repeats, Trained: trained, Forms: forms}), ctx.Err()
	})
}

// Repeats is the study of training sessions.
func (f Findings) Repeats(ctx context.Context) (repeatability.Study, error) {
	return keptOfBook(f, "repeats", nil, func() (repeatability.Study, error) {
		repeats, err := f.Source.Repeats(ctx)
		if err != nil {
			return repeatability.Study{}, err
		}
		kept, err := f.Source.KeptTwice(ctx)
		if err != nil {
			return repeatability.Study{}, err
		}
		s := repeatability.Of(repeats)
		s.BesideKept(kept)
		return s, ctx.Err()
	})
}
