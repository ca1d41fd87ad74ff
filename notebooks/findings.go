package notebooks

import (
	"context"

	"lastroom/analysis/cohort"
	"lastroom/analysis/measurers"
	"lastroom/analysis/remakes"
	"lastroom/analysis/rules"
)

// FindingOptions are the choices behind Findings.
type FindingOptions struct {
	AsOf       cohort.Day // NoDay: the newest in the book
	MatureDays int        // 0: from the data
	Replicates int        // of the bootstrap; 0: without
	// Progress, if set, is told of replicates done, from several goroutines.
	Progress func(done, total int)
}

// Findings are the tool's main analyses over one state of the book, for use
// without a notebook. They are kept, and found again, with those of notebooks.
type Findings struct{ f findings }

// Findings opens the book. Close it.
func (r *Runner) Findings(ctx context.Context, o FindingOptions) (*Findings, error) {
	src, err := r.Book.At(ctx, o.AsOf)
	if err != nil {
		return nil, err
	}
	in := Input{Source: src, Version: r.Version, keep: r.keeper(src.Facts())}
	return &Findings{findings{in: in, mature: o.MatureDays, replicates: o.Replicates, progress: o.Progress}}, nil
}

// Close gives the book back.
func (f *Findings) Close() error { return f.f.in.Source.Close() }

// Faults says which faults go with remakes.
func (f *Findings) Faults(ctx context.Context) (remakes.FaultTable, error) {
	return f.f.faults(ctx)
}

// Rules is the scorecard of the source's rules.
func (f *Findings) Rules(ctx context.Context) (rules.Scorecard, error) { return f.f.rules(ctx) }

// Trend is the monitored series.
func (f *Findings) Trend(ctx context.Context) (remakes.Trend, error) { return f.f.trend(ctx) }

// Measurers compares those who measure.
func (f *Findings) Measurers(ctx context.Context) (measurers.Comparison, error) {
	return f.f.measurers(ctx)
}
