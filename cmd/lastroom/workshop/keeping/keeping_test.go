package keeping

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/judging"
	"lastroom/cmd/lastroom/workshop/serving"
	"lastroom/ingest/keyed/loading"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
	"lastroom/ingest/testdata/books"
	"lastroom/notebooks/service/formdesk"
)

var now = time.Date(2026, 10, 6, 9, 0, 0, 0, time.UTC)

// sheets are a shop of one earlier order of customer C1, an order without a form, and
// three with forms that nobody cut from, the last one left for a year.
var sheets = map[string]string{
	"orders.csv": "order_id,customer_id,received_on,shipped_on,shaft_height_in,closure,worn_tucked,orthotic,channel,sex\nO1,C1,2025-01-05,2025-02-01,11,pull-on,no,,shop,m\nO2,C1,2026-10-01,,12,lace-up,no,,shop,m\n" +
		"S1,C7,2026-09-20,,12,,no,no,shop,m\nS2,C8,2026-09-28,,12,,no,no,shop,m\nS3,C9,2025-09-28,,12,,no,no,shop,m\n",
	"forms.csv":        "form_id,order_id,form_no,received_on,cut_from\nO1-1,O1,1,2025-01-05,yes\nS1-1,S1,1,2026-09-20,\nS2-1,S2,1,2026-09-28,\nS3-1,S3,1,2025-09-28,\n",
	"measurements.csv": "form_id,side,clothing,point,value,unit\nO1-1,left,bare,ball,25.1,cm\nS1-1,left,bare,ball,25.2,cm\nS2-1,left,bare,ball,25.2,cm\nS3-1,left,bare,ball,25.2,cm\n",
	"outcomes.csv":     "order_id,reported_on,result\nO1,2025-03-01,kept\n",
	"callbacks.csv":    "form_id,called_on,fault,resolved,resolved_on\nS2-1,2026-09-30,foot-girth-missing,,\n",
}

var loaded string // the folder of the book of sheets, of which each test has a copy

func TestMain(m *testing.M) {
	status := 1
	dir, err := os.MkdirTemp("", "lastroom-keeping-")
	if err == nil {
		loaded = dir
		if err = ready(filepath.Join(dir, "shop.duckdb")); err == nil {
			status = m.Run()
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	os.RemoveAll(dir)
	os.Exit(status)
}

// ready makes the book of sheets, and leaves beside it what a desk starts from.
func ready(book string) error {
	if err := loadTexts(book, sheets); err != nil {
		return err
	}
	w, err := workshop.Open(workshop.Setup{Book: book, Clock: func() time.Time { return now }})
	if err != nil {
		return err
	}
	pages := &serving.Pages{Workshop: w}
	return errors.Join(pages.Ready(context.Background()), pages.Close())
}

// newDesk is a desk on a copy of the book of sheets.
func newDesk(t testing.TB) *Desk {
	t.Helper()
	return deskOn(t, filepath.Join(books.Copy(t, loaded), "shop.duckdb"))
}

// deskOn is a desk on a book, or on none if the file is not there.
func deskOn(t testing.TB, book string) *Desk {
	t.Helper()
	clock := func() time.Time { return now }
	w, err := workshop.Open(workshop.Setup{Book: book, Clock: clock})
	require.NoError(t, err)
	pages := &serving.Pages{Workshop: w}
	t.Cleanup(func() { assert.NoError(t, pages.Close()) })
	return New(pages, book, clock)
}

func loadTexts(book string, sheets map[string]string) error {
	dir, err := os.MkdirTemp("", "lastroom-sheets-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	for name, text := range sheets {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			return err
		}
	}
	report, err := load.Sheets(context.Background(), book, load.Options{Paths: []string{dir}, Now: now, Need: []string{}})
	if err == nil && len(report.KeptOut) > 0 {
		err = fmt.Errorf("kept out: %v", report.KeptOut)
	}
	return err
}

// typedForm is a form of a man's feet, as the page sends it; its left ball is an inch
// too large.
func typedForm(order, id string) formdesk.Form {
	f := formdesk.Form{ID: id, OrderID: order, Customer: "C1", Received: "2026-10-05", Shaft: "12", ShaftUnit: form.Inch, Unit: form.Centimetre, Irregularities: "a bunion",
		Order: map[string]string{"closure": "pull-on", "worn_tucked": "no", "sock": "", "orthotic": "no", "channel": "shop", "sex": "m"}, Marks: map[string]string{}}
	for _, m := range form.Marks {
		f.Marks[m.Column] = map[bool]string{true: "no", false: "yes"}[m.Yes]
	}
	left := []string{"27.1", "10.2", "27,7", "26.0", "34.2", "22.8", "39.2", "26.5", "31.5", "36.5"}
	right := []string{"27.0", "10.1", "25.1", "25.9", "34.1", "22.7", "39.0", "26.4", "31.4", "36.4"}
	for i := range left {
		p := form.Place{Point: form.Leg}
		if i < int(form.Leg) {
			p.Point = form.Points[i]
		} else {
			p.HeightMM = form.Height(177.8 + 50.8*float64(i-int(form.Leg)))
		}
		p.Side = form.Left
		f.Numbers = append(f.Numbers, formdesk.Number{Place: p, Value: left[i]})
		p.Side = form.Right
		f.Numbers = append(f.Numbers, formdesk.Number{Place: p, Value: right[i]})
	}
	return f
}

func mended(f formdesk.Form, id string) formdesk.Form {
	f.ID, f.Received = id, "2026-10-06"
	f.Numbers = append([]formdesk.Number{}, f.Numbers...)
	for i := range f.Numbers {
		if f.Numbers[i].Value == "27,7" {
			f.Numbers[i].Value = "25.2"
		}
	}
	return f
}

// inBook is all that the book knows of orders, without the numbers of its loads.
func inBook(t testing.TB, d *Desk, orders ...string) (told []string) {
	r, err := orderbook.OpenReader(context.Background(), d.store.Files.Book, orderbook.Options{AsOf: cohort.NoDay})
	require.NoError(t, err)
	defer r.Close()
	for _, order := range orders {
		told = append(told, inReader(t, r, order))
	}
	return told
}

func inReader(t testing.TB, r *orderbook.Reader, order string) string {
	o, found, err := r.Order(context.Background(), order)
	require.NoError(t, err)
	require.True(t, found)
	text := ""
	for _, f := range o.Forms {
		numbers, err := r.Numbers(context.Background(), f.ID)
		require.NoError(t, err)
		text += fmt.Sprintln(f.ID, numbers)
	}
	o.History = nil
	b, err := json.Marshal(o)
	require.NoError(t, err)
	text += string(b)
	for n := range 9 {
		text = strings.ReplaceAll(text, fmt.Sprintf(`"load":%d`, n), `"load":0`)
	}
	return text
}

func put(t testing.TB, d *Desk) {
	t.Helper()
	report, err := loading.Load(context.Background(), d.store, load.Options{Now: now})
	require.NoError(t, err)
	require.Empty(t, report.KeptOut)
	require.NoError(t, d.pages.Ready(context.Background()))
}

// A form typed in on the page, held, asked about, answered and cut from is in the
// book as the same on sheets: form, answer, call-back and day of cutting. With CI=true
// the held form is loaded before it is answered as well. What was cut and loaded is in no
// list before the pages have the newer book; its number is not proposed again all the same.
// A form that came on sheets, or was typed in, is not typed over: its number is said to be
// taken.
func TestKeyedAtThePageIsLikeSheets(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	d := newDesk(t)
	proposed := func(order, id string) {
		t.Helper()
		next, err := d.Next(ctx)
		require.NoError(t, err)
		require.Equal(t, formdesk.Next{Order: order, Form: id, Unit: form.Centimetre}, next)
	}
	taken := func(order, id, by string) {
		t.Helper()
		_, err := d.Keep(ctx, typedForm(order, id), "Ben", 0)
		var wrong formdesk.Wrong
		require.ErrorAs(t, err, &wrong)
		assert.Contains(t, wrong[formdesk.FieldForm], by)
	}
	proposed("O3", "O3-1")
	taken("O7", "O1-1", "of order O1")
	f := typedForm("O3", "O3-1")
	k, err := d.Keep(ctx, f, "Ann", 0)
	require.NoError(t, err)
	taken("O4", "O3-1", "Ann")
	proposed("O4", "O4-1")
	assert.Equal(t, "measure again", k.Last().Verdict)
	assert.True(t, k.Waits)
	assert.Equal(t, f, k.Last().Form, "what was typed is what is shown again")
	k, err = d.Do(ctx, "O3", formdesk.ByLetter, "Ann", k.Version)
	require.NoError(t, err)
	for language, girth := range map[string]string{"en": "Ball girth", "de": "Ballenumfang"} {
		doc, err := d.Letter(ctx, "O3", language)
		require.NoError(t, err)
		b, _ := json.Marshal(doc)
		assert.Contains(t, string(b), girth)
	}
	if breadth.Wide() {
		put(t, d)
	}
	open, err := d.Open(ctx)
	require.NoError(t, err)
	require.Len(t, open, 1)
	assert.Equal(t, 1, open[0].Days)
	assert.Equal(t, !breadth.Wide(), open[0].Waits)
	k, err = d.Keep(ctx, mended(f, "O3-2"), "Ben", k.Version)
	require.NoError(t, err)
	assert.Equal(t, "cut", k.Last().Verdict, k.Last().Reasons)
	assert.Equal(t, "2026-10-06", k.Calls[0].Answered)
	_, err = d.Do(ctx, "O3", formdesk.IsCut, "Ben", k.Version)
	require.NoError(t, err)
	report, err := loading.Load(ctx, d.store, load.Options{Now: now})
	require.NoError(t, err)
	require.Empty(t, report.KeptOut)
	waits, err := d.store.Open()
	require.NoError(t, err)
	require.Empty(t, waits)
	ready := make(chan error, 1)
	go func() { ready <- d.pages.Ready(ctx) }()
	for renewed := false; !renewed; {
		proposed("O4", "O4-1")
		select {
		case err := <-ready:
			require.NoError(t, err)
			renewed = true
		case <-time.After(5 * time.Millisecond):
		}
	}
	open, err = d.Open(ctx)
	require.NoError(t, err)
	assert.Empty(t, open)

	// The same on sheets.
	want := newDesk(t)
	marks, answers := "", ""
	for _, m := range form.Marks {
		marks, answers = marks+";"+m.Column, answers+";"+f.Marks[m.Column]
	}
	more := map[string]string{
		"orders.csv":    "order_id;customer_id;received_on;cut_on;shaft_height_in;closure;worn_tucked;orthotic;channel;sex\nO3;C1;2026-10-05;2026-10-06;12;pull-on;no;no;shop;m\n",
		"forms.csv":     "form_id;order_id;form_no;received_on;cut_from;irregularities" + marks + "\nO3-1;O3;1;2026-10-05;no;a bunion" + answers + "\nO3-2;O3;2;2026-10-06;yes;a bunion" + answers + "\n",
		"callbacks.csv": "form_id;called_on;fault;resolved;resolved_on\nO3-1;2026-10-06;value-implausible;yes;2026-10-06\n",
	}
	numbers := "form_id;side;clothing;point;height;height_unit;value;unit\n"
	for _, of := range []formdesk.Form{f, mended(f, "O3-2")} {
		for _, n := range of.Numbers {
			c := judging.TypedNumber(n.Place, n.Value, of.Unit)
			numbers += strings.Join([]string{of.ID, c["side"], c["clothing"], c["point"], c["height"], c["height_unit"], c["value"], c["unit"]}, ";") + "\n"
		}
	}
	more["measurements.csv"] = numbers
	require.NoError(t, loadTexts(want.store.Files.Book, more))
	got := inBook(t, d, "O3")[0]
	if !strings.Contains(got, "value-implausible") { // which fault an inch too much is read as is the model's
		t.Log(got[len(got)-800:])
	}
	assert.Equal(t, inBook(t, want, "O3")[0], got)
}

// Of an order that came on sheets what is not typed is taken from the book, and what
// is typed otherwise is said and changes it; the rest of the order stays. Held forms of
// sheets wait beside those that were typed in, until leather is cut or the desk has a form
// of their order itself.
func TestOrdersOfTheBook(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	d := newDesk(t)
	waiting := func() (out []formdesk.Waiting) {
		all, err := d.Waiting(ctx)
		require.NoError(t, err)
		for _, f := range all {
			if f.Order[0] == 'S' {
				out = append(out, f)
			}
		}
		return out
	}
	got := waiting()
	require.Len(t, got, 2, "one was left for a year")
	assert.Equal(t, "S1-1", got[0].Form)
	assert.Equal(t, "C7", got[0].Customer)
	assert.Equal(t, "measure again", got[0].Verdict)
	assert.NotEmpty(t, got[0].Asks)
	assert.False(t, got[0].Called)
	assert.Equal(t, "2026-09-30", got[1].CalledOn)
	assert.Equal(t, 8, got[0].Days-got[1].Days)
	k, err := d.Keep(ctx, typedForm("S1", "S1-2"), "Ann", 0)
	require.NoError(t, err)
	assert.Equal(t, 2, k.Last().No, "the book has one form of the order")
	got = waiting()
	require.Len(t, got, 1, "the desk has it now")
	assert.Equal(t, "S2-1", got[0].Form)

	f := typedForm("O2", "O2-1")
	f.Shaft, f.Customer, f.Order = "", "", map[string]string{"closure": "", "worn_tucked": "", "sock": "thick", "orthotic": "no", "channel": "", "sex": "f"}
	a, err := d.Check(ctx, f, true)
	require.NoError(t, err)
	notes := strings.Join(a.Notes, " ")
	assert.Contains(t, notes, "customer C1")
	assert.Contains(t, notes, "shaft 12 in")
	assert.Contains(t, notes, "The book has range to judge by m for this order; what is kept changes it to f.")
	require.Len(t, a.Pairs, 1)
	assert.Equal(t, "O1", a.Pairs[0].Order)
	assert.Contains(t, a.Pairs[0].Words, "kept")
	_, err = d.Keep(ctx, f, "Ann", 0)
	require.NoError(t, err)
	put(t, d)
	text := inBook(t, d, "O2")[0]
	for _, want := range []string{`"shaft_height_mm","value":"304.8"`, `"closure","value":"lace-up"`, `"sock","value":"thick"`, `"sex","value":"f"`, `"received_on","value":"2026-10-01"`} {
		assert.Contains(t, text, want)
	}
	// The book learns that it is shipped, and another one cut: they leave the lists.
	require.NoError(t, loadTexts(d.store.Files.Book, map[string]string{"orders.csv": "order_id,cut_on,shipped_on\nO2,,2026-11-01\nS2,2026-10-02,\n"}))
	require.NoError(t, d.pages.Ready(ctx))
	assert.Empty(t, waiting())
	open, err := d.Open(ctx)
	require.NoError(t, err)
	require.Len(t, open, 1)
	assert.Equal(t, "S1", open[0].Order)
	require.NoError(t, d.settle(ctx))
	k, err = d.Kept(ctx, "O2")
	require.NoError(t, err)
	assert.Equal(t, "2026-11-01", k.ClosedOn)
}

// What can't be read holds the form and is said at its field, and is never kept.
func TestUnreadable(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	d := deskOn(t, filepath.Join(t.TempDir(), "shop.duckdb"))
	f := mended(typedForm("O5", "O5-1"), "O5-1")
	a, err := d.Check(ctx, f, true)
	require.NoError(t, err)
	assert.Equal(t, "cut", a.Verdict)
	f.Numbers[3].Value, f.Shaft, f.Received = "about 9", "eleven", "5th of May"
	a, err = d.Check(ctx, f, true)
	require.NoError(t, err)
	assert.True(t, a.Wrong)
	assert.NotEqual(t, "cut", a.Verdict)
	assert.Nil(t, a.Letter)
	for _, field := range []string{formdesk.FieldOf(f.Numbers[3].Place), formdesk.FieldShaft, formdesk.FieldReceived} {
		assert.NotEmpty(t, a.Says[field], field)
	}
	_, err = d.Keep(ctx, f, "Ann", 0)
	var wrong formdesk.Wrong
	require.ErrorAs(t, err, &wrong)
	assert.Len(t, wrong, 3)
	f = typedForm("", "")
	_, err = d.Keep(ctx, f, "Ann", 0)
	require.ErrorAs(t, err, &wrong)
	assert.NotEmpty(t, wrong[formdesk.FieldForm])
	assert.NotEmpty(t, wrong[formdesk.FieldOrder])
	_, err = d.Kept(ctx, "O5")
	assert.ErrorIs(t, err, formdesk.ErrNone)
}

// Several at once, each typing in forms of their own and one of the same order, while
// what is kept is loaded: nobody's form is lost, of the same order one is first and
// the others are told. With CI=true three of them with two forms each, otherwise two with one.
func TestSeveralAtTheDesk(t *testing.T) {
	t.Parallel()
	ctx, stop := context.WithCancel(context.Background())
	d := newDesk(t)
	loads := make(chan struct{})
	go func() { defer close(loads); d.Run(ctx, func(err error) { t.Error(err) }) }()
	var all sync.WaitGroup
	var mu sync.Mutex
	first := 0
	people, each := breadth.Few(2, 3), breadth.Few(1, 2)
	var orders []string
	for i := range people {
		for k := range each {
			orders = append(orders, fmt.Sprintf("P%d%d", i, k))
		}
		all.Go(func() {
			for k := range each {
				order := fmt.Sprintf("P%d%d", i, k)
				_, err := d.Keep(ctx, typedForm(order, order+"-1"), fmt.Sprint(i), 0)
				assert.NoError(t, err)
			}
			kept, err := d.Keep(ctx, typedForm("Q1", "Q1-1"), fmt.Sprint(i), 0)
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				first++
			} else if assert.ErrorIs(t, err, formdesk.ErrChanged) {
				assert.NotEqual(t, fmt.Sprint(i), kept.Last().By)
			}
		})
	}
	all.Wait()
	assert.Equal(t, 1, first)
	require.Eventually(t, func() bool { return !d.store.Waits() }, 2*time.Minute, 100*time.Millisecond)
	stop()
	<-loads
	for _, told := range inBook(t, d, orders...) {
		assert.Contains(t, told, "27,7")
	}
	open, err := d.Open(context.Background())
	require.NoError(t, err)
	assert.Len(t, open, len(orders)+1)
}

// What a key at the desk takes, the customer's earlier pairs included: to be under
// 50 ms with the way through the browser.
func BenchmarkCheckAtAKey(b *testing.B) {
	ctx := context.Background()
	d := newDesk(b)
	f := typedForm("O9", "O9-1")
	_, err := d.Check(ctx, f, false)
	require.NoError(b, err)
	for b.Loop() {
		_, err := d.Check(ctx, f, false)
		require.NoError(b, err)
	}
}
