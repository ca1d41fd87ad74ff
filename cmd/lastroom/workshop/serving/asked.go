package serving

import (
	"context"
	"errors"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/measurers"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/lengths"
	"lastroom/notebooks/analyses"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// TryRule scores a rule, or a condition as if it were one; the numbers of its line
// come too.
func (p *Pages) TryRule(ctx context.Context, r rules.Rule, success float64) (*page.Document, []page.Value, error) {
	f, err := p.Findings(ctx, workshop.Finding{AsOf: cohort.NoDay}, workshop.Silent)
	if err != nil {
		return nil, nil, err
	}
	defer f.Source.Close()
	d, err := f.Try(ctx, r, success)
	if err != nil {
		return nil, nil, workshop.BadInput(err)
	}
	return review.TrialPage(d), review.RuleValues(rules.Scorecard{Rules: []rules.Scored{d.Tried}, FirstForms: d.FirstForms, Remade: d.Remade, Months: d.Months}), nil
}

// Measurers compares those who measure, by the book as it is now.
func (p *Pages) Measurers(ctx context.Context) (measurers.Comparison, error) {
	return findingNow(ctx, p.Workshop, analyses.Findings.Measurers)
}

// Repeats is the study of measuring sessions, by the book as it is now.
func (p *Pages) Repeats(ctx context.Context) (repeatability.Study, error) {
	return findingNow(ctx, p.Workshop, analyses.Findings.Repeats)
}

func findingNow[T any](ctx context.Context, w *workshop.Workshop, find func(analyses.Findings, context.Context) (T, error)) (out T, err error) {
	f, err := w.Findings(ctx, workshop.Finding{AsOf: cohort.NoDay}, workshop.Silent)
	if err != nil {
		return out, err
	}
	out, err = find(f, ctx)
	return out, errors.Join(err, f.Source.Close())
}

// Length reads a length as typed in on a page.
func (p *Pages) Length(text string, unit form.Unit) (float64, error) {
	return lengths.Parse(text, unit, lengths.Options{DecimalComma: true})
}
