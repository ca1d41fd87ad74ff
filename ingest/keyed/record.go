package keyed

import (
	"encoding/json"
	"maps"
	"slices"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/ingest/sheets"
)

// A Record is what the desk keeps of one order.
type Record struct {
	OrderID  string            `json:"order_id"`
	Version  int               `json:"version"` // counts the changes that people made
	Order    map[string]string `json:"order"`   // cells of the sheet orders, as last typed
	Forms    []Form            `json:"forms"`   // in the order in which they came
	Calls    []Call            `json:"calls,omitempty"`
	Closed   Closing           `json:"closed,omitempty"`
	ClosedOn cohort.Day        `json:"closed_on"`
	// Waiting are rows that are not in the book yet, in the order in which they
	// were typed; Refused is why the last load kept one out.
	Waiting []Row  `json:"waiting,omitempty"`
	Refused string `json:"refused,omitempty"`
}

// A Form is one paper form as it was typed in, with what the desk said of it then.
type Form struct {
	ID      string              `json:"form_id"`
	No      int                 `json:"form_no"`
	Unit    form.Unit           `json:"unit"`  // of the numbers
	Cells   map[string]string   `json:"cells"` // of the sheet forms
	Numbers []map[string]string `json:"numbers"`
	By      string              `json:"by"`
	At      time.Time           `json:"at"`
	Said    Said                `json:"said"`
}

// Said is the desk's verdict on a form when it was kept.
type Said struct {
	Verdict string   `json:"verdict"`
	Held    bool     `json:"held"`
	Reasons []string `json:"reasons"`
	Faults  []string `json:"faults"` // ids, of what a call-back asks for
	// Asks is what the letter asks for, as its writer reads it.
	Asks json.RawMessage `json:"asks,omitempty"`
}

// A Call is one time that the customer was asked.
type Call struct {
	FormID   string     `json:"form_id"`
	On       cohort.Day `json:"on"`
	By       string     `json:"by"`
	How      string     `json:"how"` // letter, telephone
	Answered cohort.Day `json:"answered"`
}

// A Closing says why an order is not open at the desk any more.
type Closing string

// The ways in which the desk is done with an order.
const (
	Open      Closing = ""
	Cut       Closing = "cut"       // leather was cut
	Withdrawn Closing = "withdrawn" // there will be no boots
)

// A Row is one row of an order sheet: the cells that are spoken of, by header.
type Row struct {
	Sheet string            `json:"sheet"`
	Cells map[string]string `json:"cells"`
}

// Last is the form that came last; nil where there is none.
func (r *Record) Last() *Form {
	if len(r.Forms) == 0 {
		return nil
	}
	return &r.Forms[len(r.Forms)-1]
}

// Form finds a form by its id.
func (r *Record) Form(id string) (*Form, bool) {
	for i := range r.Forms {
		if r.Forms[i].ID == id {
			return &r.Forms[i], true
		}
	}
	return nil, false
}

// Customer is the customer's id, "" where it is not known.
func (r *Record) Customer() string { return r.Order["customer_id"] }

// Keep puts a form into the record, in the place of one with its id, and its rows
// among those that wait. order are the cells of the order that are to be in the
// book with it; nil where none of them are new.
func (r *Record) Keep(f Form, order map[string]string) {
	// What is typed again takes the place of what waits; a number that is not there
	// any more is taken back.
	var gone []map[string]string
	r.drop("measurements", f.ID)
	if old, again := r.Form(f.ID); again {
		for _, n := range old.Numbers {
			if !slices.ContainsFunc(f.Numbers, func(m map[string]string) bool { return measured(m) == measured(n) }) {
				n = maps.Clone(n)
				n["value"] = ""
				gone = append(gone, n)
			}
		}
		*old = f
	} else {
		r.Forms = append(r.Forms, f)
	}
	if order != nil {
		maps.Copy(r.Order, order)
		r.wait("orders", order, map[string]string{"order_id": r.OrderID})
	}
	ids := map[string]string{"form_id": f.ID, "order_id": r.OrderID}
	r.wait("forms", f.Cells, ids)
	for _, n := range append(gone, f.Numbers...) {
		r.wait("measurements", n, map[string]string{"form_id": f.ID})
	}
}

// Ask notes that the customer is asked about a form, once a day.
func (r *Record) Ask(f *Form, c Call) {
	for _, old := range r.Calls {
		if old.FormID == c.FormID && old.On == c.On {
			return
		}
	}
	c.Answered = cohort.NoDay
	r.Calls = append(r.Calls, c)
	r.callRows(f, c, nil)
}

// Answer notes that the answer to all open call-backs came on a day; left are the
// faults that the new form still has.
func (r *Record) Answer(on cohort.Day, left []string) {
	for i := range r.Calls {
		c := &r.Calls[i]
		if c.Answered.Known() {
			continue
		}
		c.Answered = on
		if f, ok := r.Form(c.FormID); ok {
			r.callRows(f, *c, left)
		}
	}
}

// callRows are the rows of a call-back: one a fault that was asked about, one
// without where it was something else.
func (r *Record) callRows(f *Form, c Call, left []string) {
	faults := f.Said.Faults
	if len(faults) == 0 {
		faults = []string{""}
	}
	for _, fault := range faults {
		cells := map[string]string{"called_on": c.On.String(), "fault": fault, "resolved": "", "resolved_on": ""}
		if c.Answered.Known() {
			cells["resolved"], cells["resolved_on"] = "yes", c.Answered.String()
			for _, still := range left {
				if still == fault {
					cells["resolved"], cells["resolved_on"] = "no", ""
				}
			}
		}
		r.wait("callbacks", cells, map[string]string{"form_id": f.ID})
	}
}

// Close ends the desk's part. Of a cut order the form that it was cut from is said.
func (r *Record) Close(how Closing, on cohort.Day, cutFrom string) {
	r.Closed, r.ClosedOn = how, on
	if how != Cut {
		return
	}
	r.Order["cut_on"] = on.String()
	r.wait("orders", map[string]string{"cut_on": on.String()}, map[string]string{"order_id": r.OrderID})
	for i := range r.Forms {
		f := &r.Forms[i]
		f.Cells["cut_from"] = "no"
		if f.ID == cutFrom {
			f.Cells["cut_from"] = "yes"
		}
		r.wait("forms", map[string]string{"cut_from": f.Cells["cut_from"]}, map[string]string{"form_id": f.ID, "order_id": r.OrderID})
	}
}

// wait puts a row behind those that wait, or into the one that it belongs to.
func (r *Record) wait(sheet string, cells, ids map[string]string) {
	row := Row{sheet, maps.Clone(ids)}
	maps.Copy(row.Cells, cells)
	for i := range r.Waiting {
		if w := r.Waiting[i]; w.Sheet == sheet && w.key() == row.key() {
			maps.Copy(w.Cells, row.Cells)
			return
		}
	}
	r.Waiting = append(r.Waiting, row)
}

// Unwait takes a column out of the rows of a sheet that wait.
func (r *Record) Unwait(sheet, column string) {
	for _, w := range r.Waiting {
		if w.Sheet == sheet {
			delete(w.Cells, column)
		}
	}
}

func (r *Record) drop(sheet, formID string) {
	kept := r.Waiting[:0]
	for _, w := range r.Waiting {
		if w.Sheet != sheet || w.Cells["form_id"] != formID {
			kept = append(kept, w)
		}
	}
	r.Waiting = kept
}

// key is what no two rows of a sheet may have alike.
func (w Row) key() [6]string {
	c := w.Cells
	switch w.Sheet {
	case "measurements":
		return measured(c)
	case "callbacks":
		return [6]string{c["form_id"], c["called_on"], c["fault"]}
	}
	s, _ := sheets.SheetNamed(w.Sheet)
	return [6]string{c[s.Key[0]]}
}

// measured is the place of a number.
func measured(c map[string]string) [6]string {
	return [6]string{c["form_id"], c["side"], c["clothing"], c["point"], c["height"], c["height_unit"]}
}
