package workshop

import (
	"context"
	"errors"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// RuleList are the shop's rules, or those that come with the program.
func (p *Pages) RuleList() []rules.Rule { return p.rules }

// RuleColumns are the columns that a rule's condition may be about.
func (p *Pages) RuleColumns(ctx context.Context) (columns []string, err error) {
	src, err := p.state(ctx, cohort.NoDay)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	return src.FormColumns(ctx)
}

// TryRule scores a condition as if it were a rule.
func (p *Pages) TryRule(ctx context.Context, when string, success float64) (*page.Document, error) {
	f, err := p.Findings(ctx, Finding{AsOf: cohort.NoDay}, Silent)
	if err != nil {
		return nil, err
	}
	defer f.Source.Close()
	d, err := f.Try(ctx, when, success)
	if err != nil {
		return nil, BadInput(err)
	}
	return review.TrialPage(d), nil
}
