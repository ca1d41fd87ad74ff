package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
	"lastroom/ingest/load"
)

// A typedForm is one form as it was typed in: cells of the sheets, by column.
type typedForm struct {
	Order, Form map[string]string
	Numbers     []typedNumber
}

// A typedNumber is one row of the measurements sheet, as typed.
type typedNumber struct {
	form.Place
	Value string
	Unit  form.Unit
}

// typedID names the form and the order that were typed in.
const typedID = "typed"

// sheetsInto writes the form as sheets into a folder, so that it is read by
// the same readers as any other. Cells are parted by semicolons: a decimal
// comma is read.
func (t typedForm) sheetsInto(dir string) error {
	order, first := map[string]string{"order_id": typedID}, map[string]string{"form_id": typedID, "order_id": typedID, "form_no": "1"}
	measures := [][]string{{"form_id", "side", "clothing", "point", "height", "height_unit", "value", "unit"}}
	for _, n := range t.Numbers {
		measures = append(measures, []string{typedID, n.Side.String(), n.Clothing.String(), n.Point.String(), heightCell(n.HeightMM), "mm", n.Value, n.Unit.String()})
	}
	for name, table := range map[string][][]string{
		"orders": oneRow(order, t.Order), "forms": oneRow(first, t.Form), "measurements": measures,
	} {
		err := writeWhole(filepath.Join(dir, name+".csv"), func(w io.Writer) error {
			c := csv.NewWriter(w)
			c.Comma = ';'
			return c.WriteAll(table)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func heightCell(h form.Height) string {
	if h == 0 {
		return ""
	}
	return strconv.FormatFloat(float64(h), 'f', -1, 64)
}

// oneRow is a header and a row of the cells that are not empty.
func oneRow(cells ...map[string]string) [][]string {
	var head, row []string
	for _, m := range cells {
		for _, k := range sortedKeys(m) {
			if m[k] != "" {
				head, row = append(head, k), append(row, m[k])
			}
		}
	}
	return [][]string{head, row}
}

// readTyped reads a typed form into the desk. Cells that can't be read are an
// error that names them; a form without a number is read as well.
func (d *openDesk) readTyped(ctx context.Context, t typedForm, asOf cohort.Day) error {
	dir, err := os.MkdirTemp(d.scratch, "typed-")
	if err != nil {
		return err
	}
	if err := t.sheetsInto(dir); err != nil {
		return err
	}
	report, err := d.load(ctx, load.Options{Paths: []string{dir}, Shop: d.settings, Program: program(), Now: time.Now().UTC(),
		Need: []string{"orders", "forms", "measurements"}}, asOf)
	var wrong []error
	if report != nil {
		for _, r := range report.KeptOut {
			wrong = append(wrong, fmt.Errorf("%s %q: %s", strings.ReplaceAll(r.Column, "_", " "), r.Text, r.Reason))
		}
	}
	if len(wrong) > 0 {
		return badInput(errors.Join(wrong...))
	}
	return err
}

// typeIn asks for one form line by line and reads it.
func (a *app) typeIn(ctx context.Context, d *openDesk, o checking) error {
	a.progress.done()
	if f, ok := a.stdin.(*os.File); ok && !isTerminal(f) {
		return usageError("check", "say which sheets hold the forms; without them the form is asked for, which takes a terminal")
	}
	q := &questions{in: bufio.NewScanner(a.stdin), out: a.stderr}
	t, err := q.form(form.SchemeOf(d.settings))
	if err != nil {
		return err
	}
	return d.readTyped(ctx, t, *o.asOf)
}

// questions asks for a form at a terminal. An empty answer is "not there"; "<"
// goes back to mend the answer before.
type questions struct {
	in   *bufio.Scanner
	out  io.Writer
	unit form.Unit
}

var (
	errBack  = errors.New("back")
	errEnded = badInput(errors.New("the input ended before the form was whole; nothing was checked"))
)

// ask asks once and reads a line.
func (q *questions) ask(label string) (string, error) {
	fmt.Fprintf(q.out, "%s: ", label)
	if !q.in.Scan() {
		fmt.Fprintln(q.out)
		return "", errors.Join(errEnded, q.in.Err())
	}
	s := strings.TrimSpace(q.in.Text())
	if s == "<" {
		return "", errBack
	}
	return s, nil
}

// A question has a label, a check of its answer, and a place for it. It may be
// left out depending on answers before.
type question struct {
	label string
	check func(string) error
	into  func(string)
	when  func() bool
}

// all asks the questions in turn, each until its answer is good; "<" goes back
// to the one before.
func (q *questions) all(list []question) error {
	for i := 0; i < len(list); {
		if list[i].when != nil && !list[i].when() {
			i++
			continue
		}
		s, err := q.ask(list[i].label)
		if errors.Is(err, errBack) {
			for i = max(0, i-1); i > 0 && list[i].when != nil && !list[i].when(); {
				i--
			}
			continue
		}
		if err != nil {
			return err
		}
		if s != "" {
			if err := list[i].check(s); err != nil {
				fmt.Fprintf(q.out, "  %q %s; again, please\n", s, err)
				continue
			}
		}
		list[i].into(s)
		i++
	}
	return nil
}

// oneOf checks that an answer is one of some words.
func oneOf(words ...string) func(string) error {
	return func(s string) error {
		for _, w := range words {
			if strings.EqualFold(s, w) {
				return nil
			}
		}
		return fmt.Errorf("is none of %s", strings.Join(words, ", "))
	}
}

func (q *questions) length(s string) error {
	_, err := lengths.Parse(s, q.unit, lengths.Options{DecimalComma: true})
	return err
}
