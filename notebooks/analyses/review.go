package analyses

import (
	"context"
	"errors"
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/instructions"
	"lastroom/analysis/rules"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/reports/brief"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

func reviewParts() []string {
	var names []string
	for _, p := range (&review.Review{}).Parts() {
		names = append(names, p.Name)
	}
	return names
}

// inFull is up to how many orders a review has all of what silence and unjudged
// forms could move; of more, what takes no time, and the rest when asked for.
const inFull = 5000

func reviewAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	month, err := cohort.ParseMonth(in.Keys["month"])
	if err != nil {
		return nil, fmt.Errorf("month=%s: %w", in.Keys["month"], err)
	}
	f, err := findingsOf(in)
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
	find := []func() error{
		func() (err error) { made.Faults, err = f.Faults(ctx); return },
		func() (err error) { made.Rules, err = f.Rules(ctx); return },
		func() (err error) { made.Trend, err = f.Trend(ctx); return },
		func() (err error) { made.Risks, err = f.Risks(ctx); return },
		func() (err error) { made.Ahead, err = f.ahead(ctx); return },
		func() (err error) {
			made.Reports, err = in.Source.Reports(ctx, brief.From(month), month.Last())
			return
		},
		func() error {
			cells, err := in.Source.Instructions(ctx)
			made.Instructions = instructions.Compare(cells)
			return err
		},
		func() (err error) { made.Spreads, err = in.Source.Spreads(ctx); return },
		func() (err error) { made.RangeMonths, err = in.Source.RangeMonths(ctx); return },
	}
	errs := make([]error, len(find))
	stats.Parallel(0, len(find), func(i int) { errs[i] = find[i]() })
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	quick := f.Replicates == 0 || made.Cohort.Len() > inFull
	if made.Silence, err = f.Silence(ctx, nil, quick); err != nil {
		return nil, err
	}
	if made.Blanks, err = f.Unjudged(ctx, quick); err != nil {
		return nil, err
	}
	r := review.Make(made)
	out := &notebooks.Output{Cautions: review.Cautions, Lead: r.Lead()}
	if out.Frame, err = frameOf(made.Faults.Faults); err != nil {
		return nil, err
	}
	for _, p := range r.Parts() {
		out.Parts = append(out.Parts, part(p.Name, p.Blocks...))
	}
	out.Values = append(r.Values(), conditions(made.Rules)...)
	return out, nil
}

// conditions are those of the rules, for telling later which were changed.
func conditions(d rules.Scorecard) []page.Value {
	var out []page.Value
	for _, s := range d.Rules {
		out = append(out, notebooks.Words("rule."+s.ID+notebooks.RuleCondition, s.When))
	}
	return out
}

// part is a named part of an output.
func part(name string, blocks ...page.Block) notebooks.Shown {
	return notebooks.Shown{Name: name, Blocks: blocks}
}

// partsOf are the sections of a document as parts.
func partsOf(d *page.Document) []notebooks.Shown {
	var out []notebooks.Shown
	for _, s := range d.Sections {
		out = append(out, part(s.ID, s.Blocks...))
	}
	return out
}
