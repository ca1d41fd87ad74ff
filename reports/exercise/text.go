package exercise

import (
	"fmt"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// FormsPage is the forms of a set as text, to answer on paper.
func FormsPage(s *practice.Set) *page.Document {
	d := &page.Document{Title: fmt.Sprintf("Practice, seed %d", s.Seed), Lead: "Say of each form: cut, ask, or measure again. Point at what is wrong. Some are as they should be.", Cautions: []string{review.LicensedCare}}
	for _, f := range s.Forms {
		numbers := page.Table{Columns: []page.Column{{Key: "place", Title: "Place"}, {Key: "written", Title: "As written", Numeric: true}}}
		for _, n := range f.Numbers {
			numbers.Rows = append(numbers.Rows, []page.Cell{page.Text(n.NameIn(f.Unit)), page.Text(n.Written)})
		}
		marks := page.Table{Columns: []page.Column{{Key: "mark", Title: "On the paper"}, {Key: "is", Title: "Is"}}}
		for _, m := range f.Marks {
			marks.Rows = append(marks.Rows, []page.Cell{page.Text(m.Mark), page.Text(m.Is)})
		}
		numbers.Total, marks.Total = len(numbers.Rows), len(marks.Rows)
		d.Sections = append(d.Sections, page.Section{ID: f.ID, Title: "Form " + f.ID,
			Blocks: []page.Block{page.Prose{Boot(f)}, numbers, marks, page.Prose{"cut [ ]   ask [ ]   measure again [ ]   what is wrong: ______________________"}}})
	}
	ids := page.Table{ID: "faults", Columns: []page.Column{{Key: "fault", Title: "Fault"}, {Key: "has", Title: "A form has it when"}}}
	for _, f := range form.Faults {
		ids.Rows = append(ids.Rows, []page.Cell{page.Text(f.ID), page.Text(f.Has)})
	}
	ids.Total = len(ids.Rows)
	d.Sections = append(d.Sections, page.Section{ID: "faults", Title: "What can be wrong", Blocks: []page.Block{ids}})
	return d
}

// KeyPage is what is wrong with them, why, and what to ask.
func KeyPage(rows []practice.KeyRow) *page.Document {
	t := page.Table{ID: "key", Columns: []page.Column{{Key: "form", Title: "Form"}, {Key: "verdict", Title: "Say"}, {Key: "fault", Title: "Fault"}, {Key: "why", Title: "Why, and what to ask"}}}
	for _, k := range rows {
		t.Rows = append(t.Rows, []page.Cell{page.Text(k.Form), page.Text(k.Verdict), page.Text(k.Fault), page.Text(k.Why)})
	}
	t.Total = len(t.Rows)
	return &page.Document{Title: "Answer key", Sections: []page.Section{{Blocks: []page.Block{t}}}}
}

// MarkedPage is how a class did.
func MarkedPage(c practice.Class) *page.Document {
	d := &page.Document{Title: "Practice, marked", Cautions: []string{practiceOnly}}
	for i := range c.Learners {
		m := &c.Learners[i]
		name := m.Learner
		if name == "" {
			name = "The answers"
		}
		d.Sections = append(d.Sections, page.Section{ID: fmt.Sprint("learner-", i+1), Title: name, Blocks: Marking(m)})
	}
	d.Sections = append(d.Sections, page.Section{ID: "class", Title: "Able learners, hard faults", Blocks: []page.Block{Class(c.Rasch)}})
	return d
}
