package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lastroom/analysis/form"
	"lastroom/analysis/nearest"
	"lastroom/analysis/practice"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/bookfile"
	"lastroom/notebooks/learners"
	"lastroom/reports/exercise"
	"lastroom/reports/page"
	"lastroom/reports/review"
	"lastroom/reports/sheet"
)

func (a *app) practiceCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "practice",
		Short: "forms to practise on, with planted faults, and the marking of answers",
		Long: `Prints forms made from human proportions, some with faults planted: say of each
cut, ask or measure again, and point at what is wrong. A seed, with the same
number of forms, gives a whole class the same forms. --key prints what is wrong,
why and what to ask; --answers marks a CSV file with the columns form, verdict,
faults (ids or their numbers on the worksheet, with spaces between) and, for a
class, learner. Nobody's body: the forms are invented.

--worksheet writes a file to print, with the tracings drawn; with --key the
answer key of the same forms. With a book --learner gives a set with more of what
this learner misses, and --keep keeps marked answers beside the book, where the
service's pages show the course of each learner.`,
		Example: `lastroom practice --seed 7 --forms 20
lastroom practice --seed 7 --forms 20 --worksheet class.html --paper letter
lastroom practice --seed 7 --forms 20 --key`,
		Args: noArguments,
	}
	fs := c.Flags()
	a.sayFlag(c)
	seed := wholeFlag(fs, "seed", "the `NUMBER` that the forms follow from (default 1, or the learner's next)", 0, 1)
	forms := wholeFlag(fs, "forms", "how many `FORMS` (default 20)", 1, 20)
	key := fs.Bool("key", false, "print the answer key")
	answers := fileFlag(c, "answers", "", "a `FILE` of answers to mark", "csv")
	sheetFile := fileFlag(c, "worksheet", "", "write the forms, or with --key their answer key, to a `FILE` to print", "html")
	paper := choiceFlag(c, "paper", "the `PAPER` to print on: "+strings.Join(paperNames(), ", ")+" (default a4)", paperNames())
	book := fileFlag(c, "book", "", "the order book beside which learners are kept, a `FILE`", "duckdb")
	learner := fs.String("learner", "", "the `NAME` of who practises: more of what this one misses")
	keep := fs.Bool("keep", false, "keep the marked answers beside the book")
	format := formatFlag(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		switch {
		case *forms > practice.MostForms:
			return usageError(c, "--forms: at most %d", practice.MostForms)
		case *key && *answers != "":
			return usageError(c, "--key or --answers, not both")
		case *sheetFile != "" && *answers != "":
			return usageError(c, "--worksheet or --answers, not both")
		case *keep && (*answers == "" || *book == ""):
			return usageError(c, "--keep keeps --answers beside a --book: give both")
		case *learner != "" && *book == "":
			return usageError(c, "give the book beside which %s is kept (--book)", *learner)
		}
		plan := practice.Plan{Seed: uint64(*seed), Forms: *forms}
		var kept *keptLearners
		if *book != "" {
			var err error
			if kept, err = openLearners(*book); err != nil {
				return err
			}
			defer kept.Close()
		}
		if *learner != "" {
			own, err := kept.planOf(*learner, *forms, *answers != "")
			if err != nil {
				return err
			}
			if c.Flags().Changed("seed") {
				own.Seed = plan.Seed
			}
			plan = own
		}
		s, err := plan.Set()
		if err != nil {
			return err
		}
		switch {
		case *sheetFile != "":
			return a.writeWorksheet(s, *key, *sheetFile, sheet.Papers[slices.Index(paperNames(), *paper)])
		case *key:
			rows := s.Key()
			return a.print(*format, rows, keyPage(rows))
		case *answers == "":
			return a.print(*format, s, worksheet(s))
		}
		said, err := readAnswers(*answers, *learner)
		if err != nil {
			return workshop.BadInput(fmt.Errorf("%s: %w", *answers, err))
		}
		var marked []practice.Marking
		for _, one := range said {
			m, err := s.Mark(one.name, one.answers)
			if err != nil {
				return workshop.BadInput(fmt.Errorf("%s: %w", *answers, err))
			}
			marked = append(marked, *m)
		}
		if *keep {
			if err := kept.keep(plan, s, said); err != nil {
				return workshop.BadInput(fmt.Errorf("%s: %w", *answers, err))
			}
		}
		all := marking{marked, practice.FitRasch(marked)}
		return a.print(*format, all, markingPage(all))
	}
	return c
}

// paperNames are the papers that can be printed on, the usual one first.
func paperNames() (names []string) {
	for _, p := range sheet.Papers {
		names = append(names, p.Name)
	}
	return names
}

func (a *app) writeWorksheet(s *practice.Set, key bool, file string, paper sheet.Paper) error {
	write := exercise.Worksheet
	if key {
		write = exercise.Key
	}
	if err := workshop.WriteFile(file, a.language.Through(func(w io.Writer) error { return write(w, s, paper) })); err != nil {
		return err
	}
	_, err := fmt.Fprintf(a.stdout, "%s\nPrint it on %s.\n", file, paper.Name)
	return err
}

// keptLearners are the learners beside a book.
type keptLearners struct {
	root  *os.Root
	store *learners.Store
}

func openLearners(book string) (*keptLearners, error) {
	if err := workshop.NeedBook(book); err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(bookfile.FilesOf(book).Dir)
	if err != nil {
		return nil, workshop.BadInput(err)
	}
	return &keptLearners{root, learners.NewStore(root, time.Now)}, nil
}

func (k *keptLearners) Close() error { return k.root.Close() }

// planOf is the next set of a learner. One who is not there yet may only be given
// answers to keep.
func (k *keptLearners) planOf(name string, forms int, mayBegin bool) (practice.Plan, error) {
	all, err := k.store.All()
	if err != nil {
		return practice.Plan{}, workshop.BadInput(err)
	}
	l := learners.Named(all, name)
	if l == nil && mayBegin {
		return practice.Plan{Seed: 1, Forms: forms}, nil
	}
	if l == nil {
		var names []string
		for _, one := range all {
			names = append(names, one.Name)
		}
		return practice.Plan{}, workshop.BadInput(fmt.Errorf("nobody called %q has practised beside this book yet%s; practise on its pages first (lastroom serve), or keep answers with --keep", name, nearest.Hint(name, names)))
	}
	return learners.NextPlan(all, l, forms), nil
}

// keep notes each learner's answers as a round.
func (k *keptLearners) keep(plan practice.Plan, s *practice.Set, said []saidBy) error {
	for _, one := range said {
		if bad := learners.GoodName(one.name); bad != "" {
			return errors.New("to keep answers each needs a name: give the file a column learner, or --learner")
		}
	}
	for _, one := range said {
		l, err := k.store.Enter(one.name)
		if err != nil {
			return err
		}
		no, err := k.store.BeginRound(l.Word, plan)
		if err != nil {
			return err
		}
		for _, a := range one.answers {
			seen, err := s.See(a)
			if err == nil {
				err = k.store.Answer(l.Word, no, seen)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// saidBy are one learner's answers.
type saidBy struct {
	name    string
	answers []practice.Answer
}

// readAnswers reads a file of answers, learner by learner in its order; name is
// taken where it has no column of learners.
func readAnswers(path, name string) (out []saidBy, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	head, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("no first line with the columns form, verdict, faults: %w", err)
	}
	at := map[string]int{}
	for i, name := range head {
		at[strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))] = i
	}
	for _, name := range []string{"form", "verdict", "faults"} {
		if _, ok := at[name]; !ok {
			return nil, fmt.Errorf("there is no column %q", name)
		}
	}
	by := map[string]int{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		one := practice.Answer{Learner: name, Form: strings.TrimSpace(row[at["form"]]), Verdict: strings.ToLower(strings.TrimSpace(row[at["verdict"]]))}
		for _, fault := range strings.Fields(row[at["faults"]]) {
			if k, err := strconv.Atoi(fault); err == nil && k >= 1 && k <= len(form.Faults) { // its number on the worksheet
				fault = form.Faults[k-1].ID
			}
			one.Faults = append(one.Faults, fault)
		}
		if i, ok := at["learner"]; ok {
			one.Learner = strings.TrimSpace(row[i])
		}
		k, ok := by[one.Learner]
		if !ok {
			k = len(out)
			by[one.Learner] = k
			out = append(out, saidBy{name: one.Learner})
		}
		out[k].answers = append(out[k].answers, one)
	}
}

func worksheet(s *practice.Set) *page.Document {
	d := &page.Document{Title: fmt.Sprintf("Practice, seed %d", s.Seed), Lead: "Say of each form: cut, ask, or measure again. Point at what is wrong. Some are as they should be.", Cautions: []string{review.LicensedCare}}
	for _, f := range s.Forms {
		boot := "Shaft " + form.Inch.Text(f.Boot.ShaftMM) + "; trousers worn " + map[bool]string{true: "inside", false: "outside"}[f.Boot.Tucked]
		if f.Boot.Orthotic {
			boot += "; an orthotic is worn"
		}
		numbers := page.Table{Columns: []page.Column{{Key: "place", Title: "Place"}, {Key: "written", Title: "As written", Numeric: true}}}
		for _, n := range f.Numbers {
			numbers.Rows = append(numbers.Rows, []page.Cell{page.Text(n.Name()), page.Text(n.Written)})
		}
		marks := page.Table{Columns: []page.Column{{Key: "mark", Title: "On the paper"}, {Key: "is", Title: "Is"}}}
		for _, m := range f.Marks {
			marks.Rows = append(marks.Rows, []page.Cell{page.Text(m.Mark), page.Text(m.Is)})
		}
		numbers.Total, marks.Total = len(numbers.Rows), len(marks.Rows)
		d.Sections = append(d.Sections, page.Section{ID: f.ID, Title: "Form " + f.ID,
			Blocks: []page.Block{page.Prose{boot + "."}, numbers, marks, page.Prose{"cut [ ]   ask [ ]   measure again [ ]   what is wrong: ______________________"}}})
	}
	ids := page.Table{ID: "faults", Columns: []page.Column{{Key: "fault", Title: "Fault"}, {Key: "has", Title: "A form has it when"}}}
	for _, f := range form.Faults {
		ids.Rows = append(ids.Rows, []page.Cell{page.Text(f.ID), page.Text(f.Has)})
	}
	ids.Total = len(ids.Rows)
	d.Sections = append(d.Sections, page.Section{ID: "faults", Title: "What can be wrong", Blocks: []page.Block{ids}})
	return d
}

func keyPage(rows []practice.KeyRow) *page.Document {
	t := page.Table{ID: "key", Columns: []page.Column{{Key: "form", Title: "Form"}, {Key: "verdict", Title: "Say"}, {Key: "fault", Title: "Fault"}, {Key: "why", Title: "Why, and what to ask"}}}
	for _, k := range rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(k.Form), page.Text(k.Verdict), page.Text(k.Fault), page.Text(k.Why)})
	}
	t.Total = len(t.Rows)
	return &page.Document{Title: "Answer key", Sections: []page.Section{{Blocks: []page.Block{t}}}}
}

// A marking is how all learners of a file did.
type marking struct {
	Learners []practice.Marking `json:"learners"`
	Rasch    practice.Rasch     `json:"rasch"`
}

func markingPage(all marking) *page.Document {
	d := &page.Document{Title: "Practice, marked", Cautions: []string{exercise.PracticeOnly}}
	for i := range all.Learners {
		m := &all.Learners[i]
		name := m.Learner
		if name == "" {
			name = "The answers"
		}
		d.Sections = append(d.Sections, page.Section{ID: fmt.Sprint("learner-", i+1), Title: name, Blocks: exercise.Marking(m)})
	}
	d.Sections = append(d.Sections, page.Section{ID: "class", Title: "Able learners, hard faults", Blocks: []page.Block{exercise.Class(all.Rasch)}})
	return d
}
