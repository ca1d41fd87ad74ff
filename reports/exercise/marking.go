package exercise

import (
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/analysis/stats"
	"lastroom/reports/figure"
	"lastroom/reports/page"
)

// practiceOnly is said beside every share of practice.
const practiceOnly = "Practice forms have more faults than real ones: these shares hold for practice only."

// Marking is how one learner did: in words, as a whole, by fault.
func Marking(m *practice.Marking) []page.Block {
	whole := page.Table{ID: "whole", Caption: "As a whole", Columns: []page.Column{{Key: "what", Title: "What"}, {Key: "share", Title: "Share, 95 % interval", Unit: "%", Numeric: true}, {Key: "forms", Title: "Forms", Numeric: true}},
		Rows: [][]page.Cell{{page.Text("faulty forms not cut (sensitivity)"), page.Percent(m.Sensitivity), page.Count(m.Sensitivity.N)},
			{page.Text("good forms cut (specificity)"), page.Percent(m.Specificity), page.Count(m.Specificity.N)},
			{page.Text("faulty forms with the right next step"), page.Percent(m.RightStep), page.Count(m.RightStep.N)}}, Total: 3}
	t := page.Table{ID: "by-fault", Caption: "By fault", Columns: []page.Column{{Key: "fault", Title: "Fault"}, {Key: "planted", Title: "Forms with it", Numeric: true}, {Key: "found", Title: "Found", Unit: "%", Numeric: true},
		{Key: "false", Title: "Pointed at without", Unit: "%", Numeric: true}, {Key: "missed", Title: "Work on this"}}, Total: len(m.Faults)}
	for _, b := range m.Faults {
		t.Rows = append(t.Rows, []page.Cell{titled(b.Fault), page.Count(b.Planted), page.Percent(b.Found), page.Percent(b.False), page.Text(b.Learn)})
	}
	says := page.Prose{m.Says}
	if m.Agreement.Given() {
		says = append(says, "Cut, ask and measure again were said as is right with an agreement of "+page.InWords(m.Agreement, 1, 2, "")+" (Cohen's kappa): 1 is always, 0 no more often than by chance.")
	}
	if len(m.Left) > 0 {
		says = append(says, "Not answered: "+strings.Join(m.Left, ", ")+".")
	}
	return []page.Block{says, whole, t}
}

// Class tells able learners from hard faults.
func Class(r practice.Rasch) page.Table {
	t := page.Table{ID: "class", Columns: []page.Column{{Key: "who_or_what", Title: "Learner or fault"}, {Key: "is", Title: "Tells"}, {Key: "logits", Title: "Logits, 95 % interval", Numeric: true}, {Key: "n", Title: "Faults met", Numeric: true}},
		Notes: []string{"Rasch model by penalised likelihood: the log-odds that a learner finds a fault are ability less difficulty; 0 is the middle."}}
	for _, l := range r.Abilities {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(l.Learner), page.Text("ability"), page.Plain(l.Ability, 1), page.Count(l.Ability.N)})
	}
	for _, f := range r.Difficulties {
		t.Rows = append(t.Rows, []page.Cell{titled(f.Fault), page.Text("difficulty"), page.Plain(f.Difficulty, 1), page.Count(f.Difficulty.N)})
	}
	t.Total = len(t.Rows)
	return t
}

// A Mark is how one set went.
type Mark struct {
	Label   string
	Marking *practice.Marking
}

// Course shows how a learner's sets went, the oldest first: faulty forms held, and
// good forms cut.
func Course(marks []Mark) []page.Block {
	draw := func(id, title, axis string, of func(*practice.Marking) stats.Estimate) page.Figure {
		v := figure.Intervals{ID: id, Title: title, Axis: axis, Scale: 100, Decimals: 0, Zero: 100,
			Desc: title + ", one row a set, the oldest first, with 95 % intervals."}
		for _, m := range marks {
			v.Rows = append(v.Rows, figure.IntervalRow{Label: m.Label, E: of(m.Marking)})
		}
		return figure.IntervalChart(v)
	}
	return []page.Block{
		draw("held", "Faulty forms that were held, by set", "of 100 faulty forms held", func(m *practice.Marking) stats.Estimate { return m.Sensitivity }),
		draw("let-through", "Good forms that were cut, by set", "of 100 good forms cut", func(m *practice.Marking) stats.Estimate { return m.Specificity }),
	}
}

// Chances are how likely a learner finds each fault, and how often the next set has
// it.
func Chances(list []practice.Chance) page.Table {
	next := practice.Plan{Forms: 20, Weights: practice.Weights(list)}
	times := next.Times()
	t := page.Table{ID: "chances", Caption: "How likely each fault is found, and how often the next set has it", Columns: []page.Column{{Key: "fault", Title: "Fault"}, {Key: "finds", Title: "Finds it, 95 % interval", Unit: "%", Numeric: true},
		{Key: "met", Title: "Forms met", Numeric: true}, {Key: "times", Title: "Times in a next set of 20 forms", Numeric: true}}, Total: len(list),
		Notes: []string{"Rasch model: the chance to find a fault follows from how able the learner is, how hard the fault is for all learners, and how far this learner departs for this fault. Few answers are drawn towards the middle. Newer answers count more. The next set plants most of what is likely missed."}}
	for _, c := range list {
		k, _ := form.FaultIndex(c.Fault)
		t.Rows = append(t.Rows, []page.Cell{titled(c.Fault), page.Percent(c.Finds), page.Count(c.Finds.N), page.Count(times[k])})
	}
	return t
}

// titled is a fault in words, by its id in CSV and JSON.
func titled(id string) page.Cell {
	if k, ok := form.FaultIndex(id); ok {
		return page.Cell{Text: form.Faults[k].Title, Value: id}
	}
	return page.Text(id)
}

// Later is practice beside the learners' own later forms.
func Later(f practice.Foretold) []page.Block {
	t := page.Table{ID: "later", Caption: "Learners who are measurers of the book, and the forms they took since", Columns: []page.Column{{Key: "learner", Title: "Learner"}, {Key: "sensitivity", Title: "Faulty practice forms held", Unit: "%", Numeric: true},
		{Key: "practice_forms", Title: "of", Numeric: true}, {Key: "forms", Title: "Own forms since", Numeric: true}, {Key: "share", Title: "of them with a fault", Unit: "%", Numeric: true}}, Total: len(f.Learners)}
	for _, o := range f.Learners {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(o.Learner), page.Percent(o.Sensitivity), page.Count(o.Sensitivity.N), page.Count(o.Forms), page.Percent(o.Share)})
	}
	says := page.Prose{f.Says}
	if f.Together.Given() {
		says = append(says, "Rank correlation of faults found in practice with forms that have faults: "+page.InWords(f.Together, 1, 2, "")+", "+page.Counted(f.Together.N, "learner", "learners")+".")
	} else if len(f.Together.Warnings) > 0 {
		says = append(says, form.Capitalised(f.Together.Warnings[0])+". There are "+page.Thousands(f.Together.N)+".")
	}
	if len(f.Learners) == 0 {
		return []page.Block{says}
	}
	return []page.Block{says, t}
}
