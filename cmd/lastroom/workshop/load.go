package workshop

import (
	"context"
	"runtime/debug"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/cmd/lastroom/workshop/apart"
	"lastroom/ingest/audit"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/load"
)

// LoadSheets reads sheets into the book, and leaves the orders ready for the
// next question. Where rows were kept out the report says so, with an error or
// without.
func (w *Workshop) LoadSheets(ctx context.Context, o load.Options, p Progress) (*load.Report, error) {
	o.Program, o.Now, o.Progress = Program(), w.clock().UTC(), p.Share()
	report, err := load.Sheets(ctx, w.book, o)
	if err == nil && report.Load > 0 && !o.DryRun {
		p("getting the orders ready", 1000, 1000)
		if began := w.warm(ctx); began != "" {
			report.Notes = append(report.Notes, began)
		}
	}
	return report, BadInput(err)
}

// Audit judges the numbers of all forms in the book again.
func (w *Workshop) Audit(ctx context.Context, p Progress) error {
	const step = "judging the numbers of all forms"
	p(step, 0, 0)
	err := audit.Book(ctx, w.book, bookfile.WriterOptions{Program: Program(), Now: w.clock().UTC()},
		func(done, total int) { p(step, done, total) })
	if err != nil {
		return BadInput(err)
	}
	p("getting the orders ready", 0, 0)
	w.warm(ctx)
	return nil
}

// warm leaves what the next command starts from, and says what orders are from before
// the book began; "" for none. It is no harm if it can't.
func (w *Workshop) warm(ctx context.Context) string {
	src, err := w.Look(ctx, cohort.NoDay)
	if err != nil {
		return ""
	}
	defer src.Close()
	// One after the other, and tidied as they go: a million orders are what a load takes most
	// memory for.
	defer debug.SetGCPercent(debug.SetGCPercent(20))
	_, _ = src.Spreads(ctx)
	_, _ = src.HoldFirstForms(ctx)
	began, err := src.Began(ctx)
	if err != nil {
		return ""
	}
	return began.Words()
}

// Main makes this process one that loads for the service, where it was started as
// one.
func Main() {
	apart.Main(func(ctx context.Context, job apart.Job, say func(string, int, int)) (*load.Report, error) {
		w, err := Open(Setup{Book: job.Book, Rules: job.Rules, Clock: func() time.Time { return job.Now }})
		if err != nil {
			return nil, err
		}
		return w.LoadSheets(ctx, load.Options{Paths: job.Paths, Map: job.Map, Rejects: job.Rejects, DryRun: job.DryRun}, say)
	}, Failure)
}

// LoadApart is LoadSheets in a process of its own: the service goes on if the engine
// fails, and what the load took of memory is given back.
func (w *Workshop) LoadApart(ctx context.Context, o load.Options, p Progress) (*load.Report, error) {
	return apart.Load(ctx, apart.Job{Book: w.book, Rules: w.ruled.Given(), Now: w.clock(), Paths: o.Paths, Map: o.Map, Rejects: o.Rejects, DryRun: o.DryRun}, p)
}
