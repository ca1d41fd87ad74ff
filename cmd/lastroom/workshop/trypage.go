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
func (p *Pages) RuleList() []rules.Rule { return p.ruled.Now().List }

// RuleColumns are the columns that a rule's condition may be about.
func (p *Pages) RuleColumns(ctx context.Context) (columns []string, err error) {
	src, err := p.state(ctx, cohort.NoDay)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	return src.FormColumns(ctx)
}

// TryRule scores a rule, or a condition as if it were one; the numbers of its line
// come too.
func (p *Pages) TryRule(ctx context.Context, r rules.Rule, success float64) (*page.Document, []page.Value, error) {
	f, err := p.Findings(ctx, Finding{AsOf: cohort.NoDay}, Silent)
	if err != nil {
		return nil, nil, err
	}
	defer f.Source.Close()
	d, err := f.Try(ctx, r, success)
	if err != nil {
		return nil, nil, BadInput(err)
	}
	return review.TrialPage(d), review.RuleValues(rules.Scorecard{Rules: []rules.Scored{d.Tried}, FirstForms: d.FirstForms, Remade: d.Remade, Months: d.Months}), nil
}
