package workshop

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/cmd/lastroom/workshop/apart"
	"lastroom/ingest/audit"
	"lastroom/ingest/demo"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/service"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// LoadSheets reads sheets into the book, and leaves the orders ready for the
// next question. Where rows were kept out the report says so, with an error or
// without.
func (w *Workshop) LoadSheets(ctx context.Context, o load.Options, p Progress) (*load.Report, error) {
	o.Program, o.Now, o.Progress = Program(), w.clock().UTC(), p.share()
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
	err := audit.Book(ctx, w.book, orderbook.WriterOptions{Program: Program(), Now: w.clock().UTC()},
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
	src, err := w.state(ctx, cohort.NoDay)
	if err != nil {
		return ""
	}
	defer src.Close()
	var both sync.WaitGroup
	both.Go(func() { _, _ = src.HoldFirstForms(ctx) })
	both.Go(func() { _, _ = src.Spreads(ctx) })
	both.Wait()
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

// loadApart is LoadSheets in a process of its own: the service goes on if the engine
// fails, and what the load took of memory is given back.
func (w *Pages) loadApart(ctx context.Context, o load.Options, p Progress) (*load.Report, error) {
	return apart.Load(ctx, apart.Job{Book: w.book, Rules: w.ruled.Given(), Now: w.clock(), Paths: o.Paths, Map: o.Map, Rejects: o.Rejects, DryRun: o.DryRun}, p)
}

// Load loads the sheets of a folder, as the command does. A mapping file among
// them is used.
func (w *Pages) Load(ctx context.Context, in service.Incoming, say service.Say) (*service.LoadResult, error) {
	beside := filepath.Clean(in.Dir)
	rejects, mapping := beside+"-rejects.csv", beside+"-mapping.yaml"
	defer os.Remove(rejects)
	defer os.Remove(mapping)
	o := load.Options{Rejects: rejects, DryRun: in.Try}
	if in.Mapping != "" {
		if err := os.WriteFile(mapping, []byte(in.Mapping), 0o600); err != nil {
			return nil, err
		}
		o.Map, o.Paths = mapping, []string{in.Dir}
	} else {
		entries, err := os.ReadDir(in.Dir)
		if err != nil {
			return nil, err
		}
		// Each file was chosen by a person, so its name need not be a sheet's.
		for _, e := range entries {
			switch path := filepath.Join(in.Dir, e.Name()); strings.ToLower(filepath.Ext(path)) {
			case ".yaml", ".yml":
				o.Map = path
			default:
				o.Paths = append(o.Paths, path)
			}
		}
	}
	report, err := w.loadApart(ctx, o, Progress(say))
	if err == nil && !in.Try {
		_ = w.Ready(ctx) // or the first who asks makes it, and is told what is wrong
	}
	if err != nil && (report == nil || len(report.KeptOut) == 0) {
		return nil, err
	}
	hints := loadHints{dry: "This was a trial: nothing was changed.", keptOut: "Mend the rows kept out in the file of them, or in your own sheets, and load that again: only what is new or changed is taken."}
	if in.Try {
		hints.keptOut = "What is kept out can be mended in your own sheets, by other choices, or after loading in a file of these rows."
	}
	res := &service.LoadResult{Report: loadPage(report, hints), KeptOut: len(report.KeptOut), Nothing: err != nil || !report.Loaded()}
	if in.Try {
		res.Report.Title = "What would be taken"
	}
	if err != nil {
		_, res.Report.Lead = Failure(err)
	}
	if res.Rejects, err = os.ReadFile(rejects); errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return res, err
}

// Demo makes the invented workshop's book.
func (w *Pages) Demo(ctx context.Context) error {
	dir, err := os.MkdirTemp("", "lastroom-invented-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if _, err := demo.Write(dir, demo.Options{Seed: 1}); err != nil {
		return err
	}
	if _, err = w.loadApart(ctx, load.Options{Paths: []string{dir}}, Silent); err != nil {
		return err
	}
	return w.Ready(ctx)
}

// LoadPage says what a load did; rejects is the file with the rows kept out,
// "" where none was asked for.
func LoadPage(r *load.Report, rejects string) *page.Document {
	hints := loadHints{dry: "This was a dry run: nothing was changed. Load without --dry-run to take it.",
		keptOut: "Mend the rows kept out in your sheets and load again: only what is new or changed is taken. With --rejects FILE they are written to a file."}
	if rejects != "" {
		hints.keptOut = "The rows kept out are in " + rejects + ". Mend them there or in your sheets and load again: only what is new or changed is taken."
	}
	return loadPage(r, hints)
}

// loadHints say what to do next, at the command line or on a page.
type loadHints struct{ dry, keptOut string }

func loadPage(r *load.Report, hints loadHints) *page.Document {
	var l review.Loaded
	for _, s := range r.Sheets {
		l.Sheets = append(l.Sheets, review.LoadedSheet{Sheet: s.Sheet, File: s.File, Read: int(s.Read), Taken: int(s.Taken),
			Unchanged: int(s.Unchanged), Superseded: int(s.Superseded), KeptOut: int(s.KeptOut)})
	}
	for _, k := range r.KeptOut {
		l.Out = append(l.Out, review.KeptOut{File: k.File, Line: int(k.Line), Column: k.Column, Text: k.Text, Reason: k.Reason})
	}
	if r.DryRun {
		l.Notes = append(l.Notes, hints.dry)
	} else if r.AllIn() {
		l.Notes = append(l.Notes, "All of these sheets are already in; the book is as it was.")
	}
	if len(r.KeptOut) > 0 {
		l.Notes = append(l.Notes, hints.keptOut)
	}
	for _, s := range r.Sheets {
		if len(s.Unknown) > 0 {
			l.Notes = append(l.Notes, fmt.Sprintf("%s: columns not known here, left out: %s.", s.File, strings.Join(s.Unknown, ", ")))
		}
	}
	if len(r.Ignored) > 0 {
		l.Notes = append(l.Notes, "Files that are no order sheets, left alone: "+strings.Join(r.Ignored, ", ")+".")
	}
	l.Notes = append(l.Notes, r.Notes...)
	d := review.LoadPage(l)
	if r.Gist != nil {
		d.Sections = append(gistSections(r.Gist), d.Sections...)
	}
	return d
}

// gistSections say what a load amounts to, for the person who checks it.
func gistSections(g *load.Gist) []page.Section {
	lines := page.Prose{fmt.Sprintf("%s, %s with forms, %s with numbers (%s, %s of them tucked), %s with reports of fit.",
		page.Counted(int(g.Orders), "order", "orders"), page.Thousands(int(g.WithForms)), page.Thousands(int(g.WithNumbers)), page.Counted(int(g.Numbers), "number", "numbers"), page.Thousands(int(g.Tucked)), page.Thousands(int(g.WithReports)))}
	if g.FirstDay != "" {
		lines = append(lines, fmt.Sprintf("Received from %s to %s; %s shipped.", g.FirstDay, g.LastDay, page.Thousands(int(g.Shipped))))
	}
	if g.Orders > 0 {
		made := fmt.Sprintf("%s made again, %.1f of 100 orders", page.Thousands(int(g.Remade)), 100*float64(g.Remade)/float64(g.Orders))
		if g.RemadeNoDay > 0 {
			made += fmt.Sprintf("; %s of them without a day", page.Thousands(int(g.RemadeNoDay)))
		}
		lines = append(lines, made+".")
	}
	out := []page.Section{{ID: "gist", Title: "What was read", Blocks: []page.Block{lines}}}
	if len(g.Reasons) > 0 {
		t := page.Table{ID: "reasons", Caption: "Most frequent reasons for rows kept out, with one example each", Columns: []page.Column{
			{Key: "rows", Title: "Rows", Numeric: true}, {Key: "reason", Title: "Reason"}, {Key: "example", Title: "Such as"}, {Key: "at", Title: "At"}}}
		for _, r := range g.Reasons {
			at := r.Example.File
			if r.Example.Tab != "" {
				at += ", tab " + r.Example.Tab
			}
			if r.Example.Cell != "" {
				at += ", cell " + r.Example.Cell
			} else {
				at += fmt.Sprintf(", line %d", r.Example.Line)
			}
			t.Rows = append(t.Rows, []page.Cell{page.Count(r.Rows), page.Text(r.Reason), page.Text(r.Example.Text), page.Text(at)})
		}
		out = append(out, page.Section{ID: "reasons", Blocks: []page.Block{t}})
	}
	if len(g.Extremes) > 0 {
		t := page.Table{ID: "extremes", Caption: "Readings farthest from the middle of their place: are they right?", Columns: []page.Column{
			{Key: "form_id", Title: "Form"}, {Key: "place", Title: "Place"}, {Key: "written", Title: "As written"}, {Key: "mm", Title: "Read as", Unit: "mm", Numeric: true}, {Key: "middle_mm", Title: "Middle", Unit: "mm", Numeric: true}}}
		for _, e := range g.Extremes {
			t.Rows = append(t.Rows, []page.Cell{page.Text(e.Form), page.Text(e.Place), page.Text(e.Written),
				{Text: fmt.Sprintf("%.0f", e.MM), Value: e.MM}, {Text: fmt.Sprintf("%.0f", e.MiddleMM), Value: e.MiddleMM}})
		}
		out = append(out, page.Section{ID: "extremes", Blocks: []page.Block{t}})
	}
	return out
}
