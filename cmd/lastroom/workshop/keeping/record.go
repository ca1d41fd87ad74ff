package keeping

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/desk"
	"lastroom/analysis/form"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/ingest/keyed"
	"lastroom/ingest/typed"
	"lastroom/notebooks/service/formdesk"
	"lastroom/reports/letter"
	"lastroom/reports/page"
)

// typedOf are the cells of the sheets that a form of the page fills.
func typedOf(f formdesk.Form) typed.Form {
	t := typed.Form{Order: orderCells(f), Form: formCells(f)}
	for _, n := range f.Numbers {
		t.Numbers = append(t.Numbers, judging.TypedNumber(n.Place, n.Value, f.Unit))
	}
	return t
}

func orderCells(f formdesk.Form) map[string]string {
	cells := maps.Clone(f.Order)
	cells["customer_id"], cells["received_on"] = f.Customer, f.Received
	cells["shaft_height_"+f.ShaftUnit.String()] = f.Shaft
	return cells
}

func formCells(f formdesk.Form) map[string]string {
	cells := maps.Clone(f.Marks)
	cells["received_on"], cells["measurer_id"], cells["irregularities"] = f.Received, f.Measurer, f.Irregularities
	return cells
}

// A record is a form on its way into the store.
type record struct {
	judged judging.Judged
	asks   letter.Ask
	held   bool
	found  lookup
}

// put puts the form into what is kept of its order. Where it is another than the last
// one, it answers what was asked about that.
func (of record) put(r *keyed.Record, f formdesk.Form, by string, at time.Time) error {
	asks, err := json.Marshal(of.asks)
	if err != nil {
		return err
	}
	d := of.judged.Decision
	k := keyed.Form{ID: f.ID, Unit: f.Unit, Cells: formCells(f), By: by, At: at, Numbers: typedOf(f).Numbers,
		Said: keyed.Said{Verdict: string(d.Verdict), Held: of.held, Reasons: d.Reasons, Faults: askedFaults(of.judged), Asks: asks}}
	old, again := r.Form(f.ID)
	switch {
	case again:
		k.No = old.No
	case r.Last() != nil:
		k.No = r.Last().No + 1
	default:
		k.No = of.found.forms + 1
	}
	k.Cells["form_no"] = strconv.Itoa(k.No)
	r.Keep(k, of.newCells(r, f))
	if r.Closed = keyed.Open; !again {
		on := of.judged.Received
		if !on.Known() {
			on = cohort.DayOf(at)
		}
		r.Answer(on, k.Said.Faults)
	}
	return nil
}

// newCells are the cells of the order that are to be in the book and are not: all of a
// new order, else what is typed and otherwise. nil where there are none.
func (of record) newCells(r *keyed.Record, f formdesk.Form) map[string]string {
	cells := orderCells(f)
	switch {
	case r.Last() != nil: // kept before: what was typed otherwise then
		delete(cells, "received_on")
		maps.DeleteFunc(cells, func(column, value string) bool { return r.Order[column] == value })
		if shaft := "shaft_height_" + f.ShaftUnit.String(); cells[shaft] != "" {
			for _, u := range form.Units { // one unit alone says it
				if u != f.ShaftUnit {
					delete(r.Order, "shaft_height_"+u.String())
					r.Unwait("orders", "shaft_height_"+u.String())
				}
			}
		}
	case len(of.found.order.Cells) > 0: // from sheets
		maps.DeleteFunc(cells, func(column, value string) bool {
			return value == "" || value == of.found.inBook(column) || column == "received_on" && of.found.inBook(column) != "" ||
				strings.HasPrefix(column, "shaft_height") && of.found.sameShaft(f)
		})
	default:
		return cells
	}
	if len(cells) == 0 {
		return nil
	}
	return cells
}

// askedFaults are the faults that a call-back about a form asks to mend.
func askedFaults(j judging.Judged) (ids []string) {
	if !j.Decision.Held() {
		return nil
	}
	for _, f := range form.Faults {
		counted := f.ID == "foot-girth-missing" || f.ID == "leg-height-missing"
		if slices.Contains(j.Decision.Faults, f.ID) && (f.Asks != form.Nothing || counted || f.Kind == form.Evident && j.Decision.Alarm) {
			ids = append(ids, f.ID)
		}
	}
	return ids
}

// kept is a record as the pages show it.
func (d *Desk) kept(r *keyed.Record) *formdesk.Kept {
	k := &formdesk.Kept{Order: r.OrderID, Customer: r.Customer(), Version: r.Version, Closed: string(r.Closed), Waits: len(r.Waiting) > 0, Refused: r.Refused}
	if r.ClosedOn.Known() {
		k.ClosedOn = r.ClosedOn.String()
	}
	for _, f := range r.Forms {
		k.Forms = append(k.Forms, keptForm(r, f))
	}
	for _, c := range r.Calls {
		call := formdesk.Call{Form: c.FormID, On: c.On.String(), How: c.How, By: c.By}
		if c.Answered.Known() {
			call.Answered = c.Answered.String()
		}
		k.Calls = append(k.Calls, call)
	}
	came, err := cohort.ParseDay(r.Last().Cells["received_on"])
	if err != nil {
		came = cohort.DayOf(r.Last().At)
	}
	k.Days = max(0, int(workshop.Today(d.clock)-came))
	return k
}

func keptForm(r *keyed.Record, f keyed.Form) formdesk.KeptForm {
	out := formdesk.KeptForm{Form: pageForm(r, f), No: f.No, By: f.By, At: f.At, Verdict: f.Said.Verdict, Held: f.Said.Held, Reasons: f.Said.Reasons}
	if ask, err := askOf(&f); err == nil && f.Said.Held {
		out.Asked = letter.InShort(letter.English(), ask)
	}
	return out
}

// pageForm is a kept form as it was typed in.
func pageForm(r *keyed.Record, f keyed.Form) formdesk.Form {
	out := formdesk.Form{ID: f.ID, OrderID: r.OrderID, Customer: r.Customer(), Received: f.Cells["received_on"], Measurer: f.Cells["measurer_id"],
		Irregularities: f.Cells["irregularities"], Unit: f.Unit, ShaftUnit: form.Inch, Order: map[string]string{}, Marks: map[string]string{}}
	for column, value := range r.Order {
		if unit, ok := strings.CutPrefix(column, "shaft_height_"); ok && value != "" {
			out.Shaft = value
			out.ShaftUnit, _ = form.ParseUnit(unit)
		}
	}
	for _, q := range desk.Questions {
		out.Order[q.Column] = r.Order[q.Column]
	}
	for _, m := range form.Marks {
		out.Marks[m.Column] = f.Cells[m.Column]
	}
	for _, n := range f.Numbers {
		out.Numbers = append(out.Numbers, formdesk.Number{Place: placeOf(n), Value: n["value"]})
	}
	return out
}

// placeOf reads the cells that TypedNumber writes.
func placeOf(n map[string]string) form.Place {
	var p form.Place
	_ = p.Side.UnmarshalText([]byte(n["side"]))
	_ = p.Clothing.UnmarshalText([]byte(n["clothing"]))
	_ = p.Point.UnmarshalText([]byte(n["point"]))
	mm, _ := strconv.ParseFloat(n["height"], 64)
	p.HeightMM = form.Height(mm)
	return p
}

// askOf is what the letter about a form asks for, as it was when it was kept.
func askOf(f *keyed.Form) (a letter.Ask, err error) {
	return a, json.Unmarshal(f.Said.Asks, &a)
}

func letterOf(a letter.Ask, language string) *page.Document {
	return letter.Write(letter.Words.Language(language), a).Document()
}

// cutInBook are the days on which orders were cut or shipped, by the book.
func (d *Desk) cutInBook(ctx context.Context, list []*keyed.Record) (map[string]cohort.Day, error) {
	out := map[string]cohort.Day{}
	err := d.pages.WithDesk(ctx, func(w *judging.Desk, _ string) error {
		if w.Book() == nil || len(list) == 0 {
			return nil
		}
		var ids []string
		for _, r := range list {
			ids = append(ids, r.OrderID)
		}
		var err error
		out, err = w.Book().CutDays(ctx, ids)
		return err
	})
	return out, err
}
