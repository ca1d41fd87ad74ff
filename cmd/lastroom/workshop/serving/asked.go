package serving

import (
	"context"
	"errors"
	"fmt"
	"sync"

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
	d, err := findingNow(ctx, p, fmt.Sprintf("try %+v %v", r, success), func(f analyses.Findings, ctx context.Context) (rules.Trial, error) {
		d, err := f.Try(ctx, r, success)
		if err != nil {
			err = workshop.BadInput(err)
		}
		return d, err
	})
	if err != nil {
		return nil, nil, err
	}
	return review.TrialPage(d), review.RuleValues(rules.Scorecard{Rules: []rules.Scored{d.Tried}, FirstForms: d.FirstForms, Remade: d.Remade, Months: d.Months}), nil
}

// Measurers compares those who measure, by the book as it is now.
func (p *Pages) Measurers(ctx context.Context) (measurers.Comparison, error) {
	return findingNow(ctx, p, "measurers", analyses.Findings.Measurers)
}

// Repeats is the study of measuring sessions, by the book as it is now.
func (p *Pages) Repeats(ctx context.Context) (repeatability.Study, error) {
	return findingNow(ctx, p, "repeats", analyses.Findings.Repeats)
}

// mostAnswers is how many answers are held for one state of the book.
const mostAnswers = 50

// answers are what pages asked of one state of the book and its rules: a page and the
// lists behind its counts ask the same.
type answers struct {
	mu sync.Mutex
	of string
	by map[string]any
}

// findingNow is the answer to what is asked of the book as it is now.
func findingNow[T any](ctx context.Context, p *Pages, asked string, find func(analyses.Findings, context.Context) (T, error)) (out T, err error) {
	now, err := p.State(ctx)
	if err != nil {
		return out, err
	}
	of := deskOf(now)
	p.asked.mu.Lock()
	if p.asked.of != of || len(p.asked.by) >= mostAnswers {
		p.asked.of, p.asked.by = of, map[string]any{}
	}
	out, ok := p.asked.by[asked].(T)
	p.asked.mu.Unlock()
	if ok {
		return out, nil
	}
	f, err := p.Findings(ctx, workshop.Finding{AsOf: cohort.NoDay}, workshop.Silent)
	if err != nil {
		return out, err
	}
	current := deskOf(f.Source.Facts()) == of
	out, err = find(f, ctx)
	if err = errors.Join(err, f.Source.Close()); err != nil || !current {
		return out, err
	}
	p.asked.mu.Lock()
	defer p.asked.mu.Unlock()
	if p.asked.of == of {
		p.asked.by[asked] = out
	}
	return out, nil
}

// Length reads a length as typed in on a page.
func (p *Pages) Length(text string, unit form.Unit) (float64, error) {
	return lengths.Parse(text, unit, lengths.Options{DecimalComma: true})
}
