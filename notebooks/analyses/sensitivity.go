package analyses

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
	"lastroom/analysis/sensitivity"
	"lastroom/notebooks"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// Silence says how far word that never came could move the findings; factors are
// those to look at, nil for the usual. Without more than the shares it is quick.
func (f Findings) Silence(ctx context.Context, factors []float64, sharesOnly bool) (sensitivity.Silence, error) {
	return kept(f, "silence", []any{f.MatureDays, f.Replicates, factors, sharesOnly}, func() (s sensitivity.Silence, err error) {
		table, card, applied := remakes.FaultTable{}, rules.Scorecard{}, []rules.Applied(nil)
		if !sharesOnly {
			if table, err = f.Faults(ctx); err != nil {
				return s, err
			}
			if card, err = f.Rules(ctx); err != nil {
				return s, err
			}
			if applied, err = f.Source.HoldFirstForms(ctx); err != nil {
				return s, err
			}
		}
		c, err := f.Source.Cohort(ctx)
		if err != nil {
			return s, err
		}
		if sharesOnly {
			table.Maturity = remakes.MatureAfter(c, f.MatureDays)
		}
		o := sensitivity.Options{Factors: factors, SharesOnly: sharesOnly, Progress: f.Progress}
		return sensitivity.Silent(ctx, c, table, card, applied, o), ctx.Err()
	})
}

// Unjudged says how far faults that nobody could judge could move the findings.
// The worst case alone is quick.
func (f Findings) Unjudged(ctx context.Context, worstCaseOnly bool) (sensitivity.Blanks, error) {
	return keptOfBook(f, "unjudged", []any{f.MatureDays, f.Replicates, worstCaseOnly}, func() (b sensitivity.Blanks, err error) {
		table, err := f.Faults(ctx)
		if err != nil {
			return b, err
		}
		c, err := f.Source.Cohort(ctx)
		if err != nil {
			return b, err
		}
		o := sensitivity.UnjudgedOptions{Seed: seed, BoundsOnly: worstCaseOnly, Progress: f.Progress}
		return sensitivity.Unjudged(ctx, c, table, o), ctx.Err()
	})
}

// mostFactors is how many factors are looked at at most.
const mostFactors = 12

// ParseFactors reads factors as a person lists them; none where there is
// nothing.
func ParseFactors(s string) ([]float64, error) {
	if strings.TrimSpace(s) == "" {
		return nil, nil
	}
	var out []float64
	for _, part := range strings.Split(s, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(x >= 0 && x <= 100) || math.IsInf(x, 0) {
			return nil, fmt.Errorf("%q is not a factor from 0 to 100; list them as 0.5,1,2", part)
		}
		out = append(out, x)
	}
	if len(out) > mostFactors {
		return nil, fmt.Errorf("%d factors: at most %d at once", len(out), mostFactors)
	}
	return out, nil
}

func silenceAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	factors, err := ParseFactors(in.Keys[factorsKey.Name])
	if err != nil {
		return nil, fmt.Errorf("%s=%s: %w", factorsKey.Name, in.Keys[factorsKey.Name], err)
	}
	s, err := f.Silence(ctx, factors, false)
	if err != nil {
		return nil, err
	}
	rows, err := frameOf(turnRows(s))
	return &notebooks.Output{Parts: partsOf(review.SilencePage(s)), Values: silenceValues(s), Frame: rows, Cautions: []string{review.NoDiagnosis}}, err
}

// A turnRow is a conclusion in the frame of the cell: a kind, what it is about,
// the conclusion as counted, and the factor at which it turns.
type turnRow struct {
	Kind   string `json:"kind"`
	ID     string `json:"id"`
	Title  string `json:"title"`
	Said   string `json:"said"`
	To     string `json:"turns_to"`
	Factor string `json:"factor"`
}

func turnRows(s sensitivity.Silence) []turnRow {
	var out []turnRow
	add := func(kind string, list []sensitivity.Moved) {
		for _, m := range list {
			r := turnRow{Kind: kind, ID: m.ID, Title: m.Title, Said: m.Turns.Said, To: m.Turns.To}
			if m.Turns.Turns {
				r.Factor = strconv.FormatFloat(float64(m.Turns.Factor), 'g', 3, 64)
			}
			out = append(out, r)
		}
	}
	add("fault", s.Faults)
	add("rule", s.Rules)
	return out
}

func silenceValues(s sensitivity.Silence) []page.Value {
	vs := []page.Value{
		notebooks.Exact("silent", page.Thousands(s.Silent), float64(s.Silent), s.MatureOrders),
		{Name: "silent_share", Text: page.InWords(s.SilentShare, 100, 0, " %"), E: s.SilentShare},
	}
	for _, a := range s.Shares {
		name := "share_at_" + strings.ReplaceAll(strconv.FormatFloat(a.Factor, 'g', -1, 64), ".", "_")
		vs = append(vs, page.Value{Name: name, Text: page.InWords(a.Estimate, 100, 1, " %"), E: a.Estimate})
	}
	return vs
}

func unjudgedAnalysis(ctx context.Context, in notebooks.Input) (*notebooks.Output, error) {
	f, err := findingsOf(in)
	if err != nil {
		return nil, err
	}
	b, err := f.Unjudged(ctx, f.Replicates == 0)
	if err != nil {
		return nil, err
	}
	rows, err := frameOf(b.Faults)
	out := &notebooks.Output{Parts: partsOf(review.UnjudgedPage(b)), Frame: rows, Cautions: []string{review.NoDiagnosis}}
	for _, x := range b.Faults {
		out.Values = append(out.Values,
			page.Value{Name: x.Fault + ".complete", Text: page.InWords(x.Complete, 100, 1, " per 100"), E: x.Complete},
			page.Value{Name: x.Fault + ".filled_in", Text: page.InWords(x.Imputed, 100, 1, " per 100"), E: x.Imputed})
	}
	return out, err
}
