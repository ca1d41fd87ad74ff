package demo

import (
	"bufio"
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strconv"

	"lastroom/analysis/cohort"
)

// A sheet is one CSV file being written.
type sheet struct {
	file *os.File
	w    *bufio.Writer
	buf  []byte
}

// sheets are all files of the workshop.
type sheets struct {
	orders, forms, measurements, outcomes, callbacks, measurers, repeats, costs *sheet

	all []*sheet
	err error
}

func createSheets(dir string) (*sheets, error) {
	s := &sheets{}
	create := func(name string, columns ...string) *sheet {
		f, err := os.Create(filepath.Join(dir, name+".csv"))
		if err != nil {
			s.err = errors.Join(s.err, err)
			return nil
		}
		sh := &sheet{file: f, w: bufio.NewWriterSize(f, 1<<18)}
		s.all = append(s.all, sh)
		sh.row(columns...)
		return sh
	}
	s.orders = create("orders", "order_id", "customer_id", "received_on", "cut_on", "shipped_on", "shaft_height_in", "closure",
		"worn_tucked", "sock", "orthotic", "channel", "sex", "earlier_order_id", "remake_of_order_id")
	s.forms = create("forms", "form_id", "order_id", "form_no", "received_on", "cut_from", "measurer_id", "self_measured",
		"outline_closed_left", "outline_closed_right", "outline_single_left", "outline_single_right",
		"ball_mark_left", "ball_mark_right", "instep_mark_left", "instep_mark_right",
		"tape_zero_used", "orthotic_discussed", "irregularities", "instructions")
	s.measurements = create("measurements", "form_id", "side", "clothing", "point", "height", "height_unit", "value", "unit")
	s.outcomes = create("outcomes", "order_id", "reported_on", "result", "zone", "direction", "side", "cause", "cost")
	s.callbacks = create("callbacks", "form_id", "called_on", "fault", "resolved", "resolved_on")
	s.measurers = create("measurers", "measurer_id", "kind", "trained_on", "region")
	s.repeats = create("repeats", "session_id", "subject_id", "measurer_id", "trial", "reference", "side", "point", "height", "value", "unit", "measured_on")
	s.costs = create("costs", "item", "value")
	if s.err != nil {
		return nil, errors.Join(s.err, s.close())
	}
	return s, nil
}

// row writes one line. A write that fails stays in the buffered writer and is
// reported by close.
func (s *sheet) row(cells ...string) {
	b := s.buf[:0]
	for i, c := range cells {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendCell(b, c)
	}
	s.buf = append(b, '\n')
	s.w.Write(s.buf)
}

// appendCell quotes a cell as RFC 4180 wants it.
func appendCell(b []byte, c string) []byte {
	if !needsQuotes(c) {
		return append(b, c...)
	}
	b = append(b, '"')
	b = append(b, bytes.ReplaceAll([]byte(c), []byte(`"`), []byte(`""`))...)
	return append(b, '"')
}

func needsQuotes(c string) bool {
	for i := range len(c) {
		if c[i] == '"' || c[i] == ',' || c[i] == '\n' || c[i] == '\r' {
			return true
		}
	}
	return false
}

func (s *sheets) close() error {
	var errs []error
	for _, sh := range s.all {
		errs = append(errs, sh.w.Flush(), sh.file.Close())
	}
	return errors.Join(errs...)
}

func (t tri) String() string { return [...]string{"", "no", "yes"}[t] }

func (o *order) customerID() string { return "P" + pad(o.customer.no) }

// pad writes a number with at least five digits.
func pad(n int) string {
	s := strconv.Itoa(n)
	for len(s) < 5 {
		s = "0" + s
	}
	return s
}

// seen is the day as the extract shows it: empty where it has not come.
func (w *workshop) seen(d cohort.Day) string {
	if !d.Known() || d > w.AsOf {
		return ""
	}
	return d.String()
}

// writeOrder writes what can be known of an order on the day of the extract.
func (w *workshop) writeOrder(o *order) {
	if o.received > w.AsOf {
		return
	}
	w.sheets.orders.row(o.id, o.customerID(), o.received.String(), w.seen(o.cut), w.seen(o.shipped),
		strconv.FormatFloat(o.shaft, 'f', -1, 64), o.closure, o.tuckedWritten.String(), o.sock,
		o.orthoticWritten.String(), o.channel, o.sex, o.customer.earlier, o.remakeOf)
	for i := range o.forms {
		if f := &o.forms[i]; f.received <= w.AsOf {
			w.writeForm(o, f, i == len(o.forms)-1)
		}
	}
	if c := o.callback; o.called.Known() && c.on <= w.AsOf {
		w.writeCallback(c)
	}
	for _, x := range o.outcomes {
		if x.on <= w.AsOf {
			w.sheets.outcomes.row(o.id, x.on.String(), x.result, x.zone, x.direction, x.side, x.cause, blankZero(x.cost))
		}
	}
}

func (w *workshop) writeForm(o *order, f *paperForm, last bool) {
	cutFrom := yesNo(last && o.cut <= w.AsOf)
	if o.no%110 == 7 { // nobody noted which form these were cut from
		cutFrom = unknown
	}
	w.sheets.forms.row(f.id, o.id, strconv.Itoa(f.no), f.received.String(), cutFrom.String(), f.measurer, f.self.String(),
		f.closed[0].String(), f.closed[1].String(), f.single[0].String(), f.single[1].String(),
		f.ball[0].String(), f.ball[1].String(), f.instep[0].String(), f.instep[1].String(),
		f.zero.String(), f.talked.String(), f.odd, f.letter(o.no))
	for _, n := range f.numbers {
		height, unit := "", ""
		if n.height > 0 {
			height, unit = strconv.FormatFloat(n.height, 'f', -1, 64), "in"
		}
		w.sheets.measurements.row(f.id, n.side.String(), n.clothing.String(), n.point.String(), height, unit, n.text, n.unit)
	}
}

func (w *workshop) writeCallback(c callback) {
	switch {
	case c.answered != 0 && c.answered <= w.AsOf:
		w.sheets.callbacks.row(c.form, c.on.String(), c.fault, "yes", c.answered.String())
	case c.on+21 <= w.AsOf && c.answered == 0:
		w.sheets.callbacks.row(c.form, c.on.String(), c.fault, "no", "")
	default:
		w.sheets.callbacks.row(c.form, c.on.String(), c.fault, "", "")
	}
}

func blankZero(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// costs are in the shop's invented currency.
func writeCosts(s *sheets) {
	s.costs.row("remake", "420")
	s.costs.row("adjustment", "60")
	s.costs.row("callback", "14")
	s.costs.row("day_of_delay", "1.5")
}

// lettered is the day from which forms carry the letter of their instructions.
var lettered = firstDay + 400

// letter is that of the instructions, which change from order to order: the invented shop
// tries two of them.
func (f *paperForm) letter(order int) string {
	if f.received < lettered {
		return ""
	}
	return []string{"A", "B"}[order%2]
}
