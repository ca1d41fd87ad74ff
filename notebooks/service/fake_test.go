package service

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body/human"
	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/frame"
	"lastroom/analysis/instructions"
	"lastroom/analysis/measurers"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/risk"
	"lastroom/analysis/rules"
	"lastroom/analysis/shop"
	"lastroom/analysis/signs"
	"lastroom/analysis/sketch"
	"lastroom/analysis/stats"
	"lastroom/notebooks"
	"lastroom/notebooks/execution"
	"lastroom/notebooks/service/finding"
	"lastroom/notebooks/service/formdesk"
	"lastroom/reports/brief"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// fakeShop is a workshop of one order.
type fakeShop struct {
	mu     sync.Mutex
	none   bool // no book yet
	hash   string
	loaded []string // names of the sheets of the last load
	by     string   // the mapping of the last load
	ruled  []byte   // the rules file
	wait   time.Duration
	kept   *formdesk.Kept // at the desk
}

func (f *fakeShop) Exists() bool { f.mu.Lock(); defer f.mu.Unlock(); return !f.none }

func (f *fakeShop) State(context.Context) (notebooks.Facts, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	d, err := cohort.ParseDay("2026-10-15")
	return notebooks.Facts{AsOf: d, Hash: f.hash, Load: 1, Month: notebooks.MonthToTell(d, nil)}, err
}

func (f *fakeShop) At(ctx context.Context, asOf cohort.Day) (notebooks.Source, error) {
	facts, err := f.State(ctx)
	if asOf.Known() {
		facts.AsOf = asOf
	}
	return &fakeSource{facts, f.wait}, err
}

func (f *fakeShop) Now(context.Context) (*brief.Shop, error) {
	asOf, err := cohort.ParseDay("2026-10-15")
	return &brief.Shop{AsOf: asOf, Month: notebooks.MonthToTell(asOf, nil), Lead: "Of 33 pairs 3 came back.", Chart: page.Table{Caption: "months"}, Telling: 47,
		Ask:    []shop.LookAt{{Order: "order <1>", Shipped: asOf - 60, Why: "no word yet"}, {Order: "o-2"}, {Order: "o-3"}, {Order: "o-4"}},
		Remade: []shop.Remake{{Order: "order <1>", Zone: "heel", Cost: 12}}}, err
}

func (f *fakeShop) Order(_ context.Context, id string) (*page.Document, error) {
	if id != "order <1>" {
		return nil, ErrUnknown
	}
	return &page.Document{Title: "Order " + id, Sections: []page.Section{{Title: "Forms", Blocks: []page.Block{page.Prose{"form A"}}}}}, nil
}

func (f *fakeShop) Orders(_ context.Context, ids []string) (page.Table, string, error) {
	t := page.Table{ID: "orders", Caption: "Orders", Columns: []page.Column{{Key: "order_id", Title: "order"}}}
	for _, id := range ids {
		if id != "order <1>" {
			return t, "", ErrUnknown
		}
		c := page.Text(id)
		c.Ref = page.Ref{Kind: "order", IDs: []string{id}}
		t.Rows = append(t.Rows, []page.Cell{c})
	}
	t.Total = len(t.Rows)
	return t, f.hash, nil
}

func (f *fakeShop) Forms(context.Context, []string) (page.Table, string, error) {
	return page.Table{}, "", ErrUnknown
}

func (f *fakeShop) Length(text string, unit form.Unit) (float64, error) {
	x, err := strconv.ParseFloat(text, 64)
	return x * unit.MM(), err
}

func (f *fakeShop) Find(_ context.Context, text string) (found finding.Found, err error) {
	switch text {
	case "order <1>":
		found.Matches = []finding.Match{{Kind: finding.Order, ID: text}}
	case "1":
		found.Matches = []finding.Match{{Kind: finding.Order, ID: "order <1>", Words: "shipped"}, {Kind: finding.Customer, ID: "C"}}
	case "ordre":
		found.Near = []finding.Match{{Kind: finding.Order, ID: "order <1>"}}
	}
	return found, nil
}

func (f *fakeShop) OrdersOf(ctx context.Context, customer string) (page.Table, error) {
	if customer != "C" {
		return page.Table{}, nil
	}
	t, _, err := f.Orders(ctx, []string{"order <1>"})
	return t, err
}

func (f *fakeShop) OrderOfForm(_ context.Context, id string) (string, error) {
	if id == "A" {
		return "order <1>", nil
	}
	return "", ErrUnknown
}

func (f *fakeShop) Load(_ context.Context, in Incoming, say Say) (*LoadResult, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	say("reading the sheets", 1, 2)
	var names []string
	err := filepath.WalkDir(in.Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		names = append(names, d.Name())
		b, err := os.ReadFile(path)
		if strings.Contains(string(b), "damaged") {
			return errors.New("orders.csv can't be read: it is damaged; the book is as it was")
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if in.Try {
		return &LoadResult{Report: &page.Document{Title: "A trial by " + in.Mapping}, Nothing: strings.Contains(in.Mapping, "no order")}, nil
	}
	f.loaded, f.by = names, in.Mapping
	if strings.Contains(in.Mapping, "unreadable") {
		return &LoadResult{Report: &page.Document{Title: "Nothing"}, Nothing: true}, nil
	}
	f.none, f.hash = false, "after load"
	return &LoadResult{Report: &page.Document{Title: "What was loaded"}, KeptOut: 1, Rejects: []byte("file,line\r\norders.csv,3\r\n")}, nil
}

// Sketch sees one table with one column, and asks what it is.
func (f *fakeShop) Sketch(_ context.Context, dir string, answers sketch.Answers) (*sketch.Sketch, error) {
	sk := &sketch.Sketch{}
	err := filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			sk.Notes = append(sk.Notes, "seen: "+d.Name())
		}
		return err
	})
	what, told := answers["ledger<1>|Wer|is"]
	sk.Tables = []sketch.Table{{Where: "ledger<1>.xlsx", Used: true, Columns: []sketch.Column{{Letter: "A", Header: "Wer", Used: true, Readings: []sketch.Reading{{Written: "<b>7</b>", Read: "7"}},
		Lists: []sketch.List{
			{Name: "ledger<1>|Wer|is", Label: "it is", Chosen: what, Open: !told, Options: []sketch.Option{{Value: "customer", Label: "the customer", Group: "Order"}, {Value: "nothing", Label: "not used"}}},
			{Add: "ledger<1>|Wer|says ", Label: "another phrase", Options: []sketch.Option{{Value: "remade", Label: "made again"}}}}}}}}
	if told {
		sk.Mapping = fmt.Sprintf("%s means %s, %s", "Wer", what, answers["ledger<1>|Wer|says neu"])
	}
	return sk, err
}

func (f *fakeShop) Demo(context.Context) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.none = false
	return nil
}

func (f *fakeShop) Heights(context.Context) ([]form.Height, error) {
	return []form.Height{177.8, 228.6}, nil
}

func (f *fakeShop) Next(context.Context) (formdesk.Next, error) {
	return formdesk.Next{Order: "W2", Form: "W2-1"}, nil
}

func (f *fakeShop) Check(_ context.Context, d formdesk.Form, _ bool) (*formdesk.Answer, error) {
	a := &formdesk.Answer{Verdict: "cut", Doc: &page.Document{Title: "cut"}, Says: map[string]string{}}
	for _, n := range d.Numbers {
		if n.Value == "x" {
			return nil, errors.New("x is no number")
		}
		if n.Value == "99" {
			a.Verdict = "measure again"
			a.Says[formdesk.FieldOf(n.Place)] = "expected 14"
			a.Letter = fakeLetter
		}
	}
	return a, nil
}

// Keep keeps one order in memory.
func (f *fakeShop) Keep(ctx context.Context, d formdesk.Form, by string, seen int) (*formdesk.Kept, error) {
	a, err := f.Check(ctx, d, true)
	if err != nil {
		return nil, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	switch {
	case d.ID == "":
		return nil, formdesk.Wrong{formdesk.FieldForm: "needed, to be kept"}
	case f.kept == nil && seen == 0:
		f.kept = &formdesk.Kept{Order: d.OrderID, Customer: d.Customer}
	case f.kept == nil || f.kept.Version != seen:
		return f.kept, formdesk.ErrChanged
	}
	k := *f.kept
	k.Version++
	k.Forms = append(slices.Clone(k.Forms), formdesk.KeptForm{Form: d, No: len(k.Forms) + 1, By: by, Verdict: a.Verdict, Held: a.Letter != nil, Reasons: []string{"a reason"}, Asked: []string{"the ball"}})
	f.kept = &k
	return &k, nil
}

func (f *fakeShop) Waiting(context.Context) ([]formdesk.Waiting, error) { return nil, nil }

func (f *fakeShop) Open(context.Context) ([]*formdesk.Kept, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.kept == nil {
		return nil, nil
	}
	return []*formdesk.Kept{f.kept}, nil
}

func (f *fakeShop) Kept(_ context.Context, order string) (*formdesk.Kept, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.kept == nil || f.kept.Order != order {
		return nil, formdesk.ErrNone
	}
	return f.kept, nil
}

func (f *fakeShop) Do(_ context.Context, _, what, by string, seen int) (*formdesk.Kept, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.kept.Version != seen {
		return f.kept, formdesk.ErrChanged
	}
	k := *f.kept
	k.Version++
	switch what {
	case formdesk.IsCut, formdesk.IsWithdrawn:
		k.Closed, k.ClosedOn = what, "2026-10-15"
	default:
		k.Calls = append(slices.Clone(k.Calls), formdesk.Call{Form: k.Last().ID, On: "2026-10-15", How: what, By: by})
	}
	f.kept = &k
	return &k, nil
}

func fakeLetter(language string) *page.Document {
	return &page.Document{Title: map[string]string{"en": "Please measure again", "de": "Bitte noch einmal messen"}[language]}
}

func (f *fakeShop) Letter(_ context.Context, _, language string) (*page.Document, error) {
	return fakeLetter(language), nil
}

func (f *fakeShop) Exercise(context.Context) (string, *page.Document, error) {
	return "order <1>", &page.Document{Title: "A form"}, nil
}

func (f *fakeShop) Measurers(context.Context) (measurers.Comparison, error) {
	return measurers.Comparison{}, nil
}

func (f *fakeShop) Repeats(context.Context) (repeatability.Study, error) {
	return repeatability.Study{}, nil
}

func (f *fakeShop) Views() []View {
	return []View{{"cohort", "one row an order", []Column{{"order_id", ""}}}}
}

func (f *fakeShop) RuleList() []rules.Rule {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.ruled == nil {
		f.ruled = rules.DefaultYAML()
	}
	list, err := rules.Parse(f.ruled)
	if err != nil {
		panic(err)
	}
	return list
}

func (f *fakeShop) ChangeRules(change func([]byte) ([]byte, error)) error {
	f.RuleList()
	f.mu.Lock()
	defer f.mu.Unlock()
	text, err := change(f.ruled)
	if err == nil {
		f.ruled = text
	}
	return err
}

func (f *fakeShop) RuleColumns(context.Context) ([]string, error) {
	return []string{"tape_marks_missing", "channel", "shaft_height_in"}, nil
}

func (f *fakeShop) TryRule(_ context.Context, r rules.Rule, success float64) (*page.Document, []page.Value, error) {
	when := r.When
	if strings.Contains(when, "nonsense") {
		return nil, nil, errors.New(`there is no column "nonsense"`)
	}
	held := page.Value{Name: "rule." + r.ID + ".held", Text: "12", E: stats.Estimate{Point: 12, Low: 10, High: 14}}
	return &page.Document{Title: "tried", Lead: fmt.Sprintf("%s at %.2f", when, success), Sections: []page.Section{{ID: "tried", Blocks: []page.Block{page.Prose{"its line"}}}}}, []page.Value{held}, nil
}

type fakeSource struct {
	facts notebooks.Facts
	wait  time.Duration
}

func (s *fakeSource) Facts() notebooks.Facts { return s.facts }
func (s *fakeSource) Close() error           { return nil }
func (s *fakeSource) Query(context.Context, frame.Query) (frame.Frame, error) {
	time.Sleep(s.wait)
	b := frame.NewBuilder([]frame.Column{{Name: "channel", Kind: frame.Text}, {Name: "shipped", Kind: frame.Integer}, {Name: "ids", Kind: frame.Text}, {Name: "form_id", Kind: frame.Text}})
	if err := b.Add([]any{"home", 1, "order <1>", "A"}); err != nil {
		return frame.Frame{}, err
	}
	return b.Frame()
}
func (s *fakeSource) Cohort(context.Context) (*cohort.Cohort, error)              { return &cohort.Cohort{}, nil }
func (s *fakeSource) HoldDesk(context.Context, float64) ([]rules.DeskHeld, error) { return nil, nil }

func (s *fakeSource) HoldAlso(context.Context, rules.Rule) (rules.Applied, error) {
	return rules.Applied{}, nil
}

func (s *fakeSource) FirstFormsHeld(context.Context, rules.Rule, cohort.Day, cohort.Day) ([]string, error) {
	return nil, nil
}

func (s *fakeSource) HoldFirstForms(context.Context) ([]rules.Applied, error) {
	return nil, nil
}
func (s *fakeSource) CallBacks(context.Context, *cohort.Cohort) ([]rules.Call, error) {
	return nil, nil
}
func (s *fakeSource) Rules() []rules.Rule { return nil }
func (s *fakeSource) Fits() *risk.Fits    { return nil }

func (s *fakeSource) Risks(context.Context) (*risk.Learnt, error) {
	return nil, errors.New("no orders")
}
func (s *fakeSource) Cases(context.Context, bool) ([]risk.Order, error)         { return nil, nil }
func (s *fakeSource) CallPrice(context.Context) (risk.Price, error)             { return risk.Price{}, nil }
func (s *fakeSource) Spreads(context.Context) ([]human.Spread, error)           { return nil, nil }
func (s *fakeSource) RangeMonths(context.Context) ([]human.RangeMonth, error)   { return nil, nil }
func (s *fakeSource) Trained(context.Context) (map[string]cohort.Day, error)    { return nil, nil }
func (s *fakeSource) KeptTwice(context.Context) ([]repeatability.Repeat, error) { return nil, nil }
func (s *fakeSource) Instructions(context.Context) ([]instructions.Cell, error) { return nil, nil }
func (s *fakeSource) FormsOfMeasurers(context.Context) ([]signs.Form, error)    { return nil, nil }
func (s *fakeSource) Costs(context.Context) (rules.Costs, error)                { return rules.Costs{}, nil }
func (s *fakeSource) Repeats(context.Context) ([]repeatability.Repeat, error)   { return nil, nil }
func (s *fakeSource) Reports(context.Context, cohort.Day, cohort.Day) ([]shop.Report, error) {
	return nil, nil
}
func (s *fakeSource) Changes(context.Context, notebooks.Facts) (cohort.Changes, error) {
	return cohort.Changes{}, nil
}

// fakeCatalogue has one analysis with an orders count and a rule's number.
var fakeCatalogue = notebooks.Catalogue{"marks": {
	About: "a made-up finding",
	Run: func(context.Context, notebooks.Input) (*notebooks.Output, error) {
		return &notebooks.Output{
			Parts: []notebooks.Shown{{Name: "all", Blocks: []page.Block{page.Table{ID: "marks", Caption: "Marks", Columns: []page.Column{{Key: "n", Title: "n", Numeric: true}},
				Rows: [][]page.Cell{{page.CountOf(1, page.Ref{Kind: "orders", IDs: []string{"order <1>"}})}}, Total: 1}}}},
			Values: []page.Value{{Name: "tape-marks-missing.avoidable", E: stats.Wilson(8, 100, 0.95)}},
		}, nil
	},
}}

// The review's notebook finds an analysis of that name, with its parts.
func init() {
	var names []string
	for _, p := range (&review.Review{}).Parts() {
		names = append(names, p.Name)
	}
	names = append(names, "instructions")
	fakeCatalogue["review"] = notebooks.Analysis{About: "a made-up review", Parts: names,
		Keys: []notebooks.Key{{Name: "month"}, {Name: "mature"}, {Name: "resampled"}},
		Run: func(context.Context, notebooks.Input) (*notebooks.Output, error) {
			out := &notebooks.Output{}
			for _, name := range names {
				out.Parts = append(out.Parts, notebooks.Shown{Name: name, Blocks: []page.Block{page.Finding{ID: "finding-" + name, Headline: "Found in " + name}}})
			}
			return out, nil
		}}
}

const ours = "---\ntitle: Ours\nfor: tests\nparameters:\n  - {name: month, type: month, default: latest}\n---\nText [x](value:marks.tape-marks-missing.avoidable).\n\n" +
	"```finding name=marks of=marks\n```\n\n```sql name=q\nselect 1\n```\n"

// serve starts a service with one notebook of the shop.
func serve(t *testing.T, shop *fakeShop, change func(*Config)) (*Server, *httptest.Server, string) {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "notebooks"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebooks", "ours.md"), []byte(ours), 0o600))
	front := httptest.NewUnstartedServer(nil)
	cfg := Config{Workshop: shop, Desk: shop, SheetKinds: []string{".csv", ".tsv", ".ods"}, Runner: &execution.Runner{Book: shop, Catalogue: fakeCatalogue, Version: "v0"}, Dir: dir,
		Addr: front.Listener.Addr().String(), Version: "v0", Clock: time.Now, Log: slog.New(slog.DiscardHandler)}
	if change != nil {
		change(&cfg)
	}
	s, err := New(cfg)
	require.NoError(t, err)
	front.Config.Handler = s
	front.Start()
	t.Cleanup(func() { front.Close(); s.Close() })
	return s, front, dir
}

// follow is a client that keeps cookies and follows redirects.
func get(t *testing.T, url string) (int, string) {
	t.Helper()
	res, err := http.Get(url)
	require.NoError(t, err)
	return bodyText(t, res)
}
