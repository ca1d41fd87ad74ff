package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/reports/exercise"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

func (a *app) practiceCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "practice",
		Short: "forms to practise on, with planted faults, and the marking of answers",
		Long: `Prints forms made from human proportions, some with faults planted: say of each
cut, ask or measure again, and point at what is wrong. A seed, with the same
number of forms, gives a whole class the same forms. --key prints what is wrong,
why and what to ask; --answers marks a CSV file with the columns form, verdict,
faults (ids, with spaces between) and, for a class, learner. Nobody's body: the forms are invented.`,
		Example: `lastroom practice --seed 7 --forms 20
lastroom practice --seed 7 --forms 20 --key`,
		Args: noArguments,
	}
	fs := c.Flags()
	seed := wholeFlag(fs, "seed", "the `NUMBER` that the forms follow from (default 1)", 0, 1)
	forms := wholeFlag(fs, "forms", "how many `FORMS` (default 20)", 1, 20)
	key := fs.Bool("key", false, "print the answer key")
	answers := fileFlag(c, "answers", "", "a `FILE` of answers to mark", "csv")
	format := formatFlag(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if *forms > practice.MostForms {
			return usageError(c, "--forms: at most %d", practice.MostForms)
		}
		s, err := practice.Plan{Seed: uint64(*seed), Forms: *forms}.Set()
		switch {
		case err != nil:
			return err
		case *key && *answers != "":
			return usageError(c, "--key or --answers, not both")
		case *key:
			rows := s.Key()
			return a.print(*format, rows, keyPage(rows))
		case *answers == "":
			return a.print(*format, s, worksheet(s))
		}
		marked, err := markFile(s, *answers)
		if err != nil {
			return workshop.BadInput(fmt.Errorf("%s: %w", *answers, err))
		}
		all := marking{marked, practice.FitRasch(marked)}
		return a.print(*format, all, markingPage(all))
	}
	return c
}

// markFile reads answers and marks each learner's, in the order of the file.
func markFile(s *practice.Set, path string) (out []practice.Marking, err error) {
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
	by := map[string][]practice.Answer{}
	var learners []string
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		one := practice.Answer{Form: strings.TrimSpace(row[at["form"]]), Verdict: strings.ToLower(strings.TrimSpace(row[at["verdict"]])), Faults: strings.Fields(row[at["faults"]])}
		if i, ok := at["learner"]; ok {
			one.Learner = strings.TrimSpace(row[i])
		}
		if !slices.Contains(learners, one.Learner) {
			learners = append(learners, one.Learner)
		}
		by[one.Learner] = append(by[one.Learner], one)
	}
	for _, name := range learners {
		m, err := s.Mark(name, by[name])
		if err != nil {
			return nil, err
		}
		out = append(out, *m)
	}
	return out, nil
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
