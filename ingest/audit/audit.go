// Package audit holds the numbers of forms against human feet and legs, and keeps
// what the body model says of them in the table form_evidence:
//
//  1. the forms in the temporary table touched are put in an order in which those
//     with the same set of numbers stand together
//  2. their numbers come packed, one integer each, and are handed in batches to
//     one [body.Auditor] a processor
//  3. what these say is appended to form_evidence
//
// A load takes [Touched] as its last step but one; [Book] judges every form anew.
package audit

import (
	"context"
	"database/sql"
	"database/sql/driver"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime"
	"sync"

	"lastroom/analysis/body"
	"lastroom/analysis/form"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/orderbook"
)

//go:embed sql/audit.sql
var auditSQL string

// judgeMemory bounds what the engine keeps in memory from the judging on (see
// engine.LimitMemory), which is the last thing a writer does: the model needs some too.
const judgeMemory = 350

// joinAsWritten has the engine look rows up in the table that is joined. It thinks
// tables of an open transaction empty, and would keep all numbers of a large book
// in memory to look up the few places in them.
const joinAsWritten = "SET disabled_optimizers = 'join_order,build_side_probe_side'"

// Touched puts in form_evidence what the body model reads off the numbers of the
// forms in the temporary table touched.
// progress, if set, is told how many of the forms were handed to the model.
func Touched(ctx context.Context, conn *sql.Conn, progress func(done, total int)) error {
	var forms int64
	if err := conn.QueryRowContext(ctx, "SELECT count(*) FROM form_numbers").Scan(&forms); err != nil {
		return err
	}
	if _, err := conn.ExecContext(ctx, engine.LimitMemory(bookfile.WriteMemory, forms)); err != nil {
		return err
	}
	if err := engine.Script(ctx, conn, engine.Section(auditSQL, "forms")); err != nil {
		return err
	}
	settings, err := orderbook.Settings(ctx, conn)
	if err != nil {
		return err
	}
	a := audit{model: body.NewModel(form.SchemeOf(settings)), progress: progress, work: make(chan *auditBatch, 2*runtime.GOMAXPROCS(0))}
	if a.heights, err = heights(ctx, conn); err != nil {
		return err
	}
	if a.forms, err = judgedForms(ctx, conn); err != nil || len(a.forms) == 0 {
		return err
	}
	if _, err := conn.ExecContext(ctx, joinAsWritten+"; "+engine.LimitMemory(judgeMemory, forms)); err != nil {
		return err
	}
	err = a.run(ctx, conn)
	if _, reset := conn.ExecContext(context.WithoutCancel(ctx), "RESET disabled_optimizers"); err != nil || reset != nil {
		return errors.Join(err, reset)
	}
	return engine.Append(conn, engine.Catalog(ctx, conn), "form_evidence", a.rows)
}

// Book judges the numbers of every form in the book again, as after a new
// version of the body model. Findings kept beside the book go, since they may
// rest on the old judgement. progress, if set, is told how many forms were judged.
func Book(ctx context.Context, book string, opt bookfile.WriterOptions, progress func(done, total int)) error {
	w, err := bookfile.OpenWriter(ctx, book, opt)
	if err != nil {
		return err
	}
	defer w.Close()
	if _, err := w.Conn.ExecContext(ctx, "CREATE OR REPLACE TEMP TABLE touched AS SELECT form_id FROM form_numbers"); err != nil {
		return err
	}
	if err := Touched(ctx, w.Conn, progress); err != nil {
		return err
	}
	if err := w.Publish(ctx, nil); err != nil {
		return err
	}
	return os.RemoveAll(w.Files.Cache())
}

// A judgedForm is a form whose numbers are judged.
type judgedForm struct {
	id      string
	sex     form.Sex
	channel form.Channel
	numbers int
}

func judgedForms(ctx context.Context, conn *sql.Conn) (forms []judgedForm, err error) {
	rows, err := conn.QueryContext(ctx, engine.Section(auditSQL, "who"))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var f judgedForm
		var sex, channel string
		if err := rows.Scan(&f.id, &sex, &channel, &f.numbers); err != nil {
			return nil, err
		}
		f.sex, f.channel = form.ParseSex(sex), form.ParseChannel(channel)
		forms = append(forms, f)
	}
	return forms, rows.Err()
}

// heights are the heights of leg girths that occur, by their number.
func heights(ctx context.Context, conn *sql.Conn) (mm []float64, err error) {
	rows, err := conn.QueryContext(ctx, engine.Section(auditSQL, "heights"))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var h float64
		if err := rows.Scan(&h); err != nil {
			return nil, err
		}
		mm = append(mm, h)
	}
	return mm, rows.Err()
}

// An audit passes the numbers to auditors in batches, one auditor a processor;
// each batch fills its own part of the result, so that their order is fixed.
type audit struct {
	model   *body.Model
	heights []float64
	forms   []judgedForm
	out     []body.Evidence
	work    chan *auditBatch

	progress func(done, total int)
	free     sync.Pool
}

// An auditBatch is the numbers of some forms, the first of them at first.
type auditBatch struct {
	body.Batch
	first int
}

const batchForms = 1024

func (a *audit) run(ctx context.Context, conn *sql.Conn) error {
	a.out = make([]body.Evidence, len(a.forms))
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			auditor := a.model.NewAuditor(body.DefaultFalseAlarms)
			for b := range a.work {
				auditor.Audit(&b.Batch, a.out[b.first:b.first])
				a.free.Put(b)
			}
		})
	}
	err := conn.Raw(func(c any) error { return a.read(ctx, c) })
	close(a.work)
	workers.Wait()
	return err
}

// read takes the packed numbers off the driver, one 64-bit integer a number.
func (a *audit) read(ctx context.Context, c any) error {
	q, ok := c.(driver.QueryerContext)
	if !ok {
		return errors.New("the database driver can't be asked directly")
	}
	rows, err := q.QueryContext(ctx, engine.Section(auditSQL, "numbers"), nil)
	if err != nil {
		return err
	}
	defer rows.Close()
	dest := make([]driver.Value, 1)
	b := a.batch(0)
	for i, f := range a.forms {
		for range f.numbers {
			if err := rows.Next(dest); err != nil {
				return errors.Join(err, ctx.Err(), fmt.Errorf("the numbers of form %s are not all there", f.id))
			}
			b.Add(a.unpack(uint64(dest[0].(int64))))
		}
		b.EndForm(f.sex, f.channel)
		if b.Len() == batchForms {
			a.work <- b
			b = a.batch(i + 1)
			if a.progress != nil {
				a.progress(i+1, len(a.forms))
			}
		}
	}
	a.work <- b
	if err := rows.Next(dest); !errors.Is(err, io.EOF) {
		return errors.Join(err, errors.New("there are more numbers than forms to judge"))
	}
	return nil
}

func (a *audit) batch(first int) *auditBatch {
	b, ok := a.free.Get().(*auditBatch)
	if !ok {
		b = &auditBatch{}
	}
	b.Reset()
	b.first = first
	return b
}

// unpack reads a number as audit.sql packs it.
func (a *audit) unpack(p uint64) form.Number {
	n := form.Number{
		Place: form.Place{Side: form.Side(p & 1), Clothing: form.Clothing(p >> 1 & 1), Point: form.Point(p >> 2 & 7)},
		Unit:  form.Millimetre + form.Unit(p>>5&3), ValueMM: float64(p>>27&(1<<36-1)) / 1e4,
	}
	if h := int(p >> 7 & (1<<20 - 1)); h > 0 && h <= len(a.heights) {
		n.HeightMM = form.Height(a.heights[h-1])
	}
	return n
}

func (a *audit) rows(add func(...driver.Value) error) error {
	name := a.model.Name()
	for i, e := range a.out {
		var score driver.Value
		if !math.IsNaN(e.Score) && !math.IsInf(e.Score, 0) {
			score = e.Score
		}
		if err := add(a.forms[i].id, e.TapeZeroShown.Value(), e.SidesCopied.Value(), e.UnitMixed.Value(),
			e.ValueImplausible.Value(), e.OutOfRange.Value(), score, name); err != nil {
			return err
		}
	}
	return nil
}
