package archive

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/notebooks"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// Compare says in words what changed from one run to another of the same
// notebook, and why: what came into the book in between, which rules changed,
// which parameters differ. ch are the changes of the book between the two.
func Compare(before, after Record, ch cohort.Changes) *page.Document {
	list, told := shifts(before, after)
	d := &page.Document{
		Title: "What changed: " + after.Title,
		Lead:  headline(before, after, ch.NewOrders.Orders, list) + " " + numbersChanged(before, after),
		Provenance: page.Provenance{AsOf: after.Facts.AsOf, BookHash: after.Facts.Hash, Version: after.Version,
			Parameters: [][2]string{{"before", before.ID}, {"after", after.ID}}},
	}
	d.Sections = []page.Section{
		{ID: "why", Title: "What went in", Blocks: []page.Block{page.Prose(whyChanged(before, after, ch))}},
		{ID: "claims", Title: "Sentences", Blocks: []page.Block{page.Prose(claimsChanged(before, after))}},
		{ID: "values", Title: "Numbers", Blocks: []page.Block{valuesChanged(before, after)}},
	}
	if told {
		d.Sections = slices.Insert(d.Sections, 1, page.Section{ID: "findings", Title: "Findings", Blocks: []page.Block{findingsChanged(list)}})
	}
	return d
}

// Headline is what changed from one run to another in a sentence.
func Headline(before, after Record, ch cohort.Changes) string {
	list, _ := shifts(before, after)
	return headline(before, after, ch.NewOrders.Orders, list)
}

// numbersChanged says how many numbers differ, in a sentence.
func numbersChanged(before, after Record) string {
	between := fmt.Sprintf("between the run of %s and that of %s.", before.Finished.Format(time.DateOnly), after.Finished.Format(time.DateOnly))
	switch n := len(changedValues(before, after)); n {
	case 0:
		return "No number changed " + between
	case 1:
		return "1 number differs " + between
	default:
		return page.Thousands(n) + " numbers differ " + between
	}
}

// whyChanged names all that can make two runs differ.
func whyChanged(before, after Record, ch cohort.Changes) []string {
	var why []string
	say := func(format string, args ...any) { why = append(why, fmt.Sprintf(format, args...)) }
	why = append(why, BookChanged(before.Facts, after.Facts, ch)...)
	why = append(why, rulesChanged(before, after)...)
	for i, p := range after.Parameters {
		if i < len(before.Parameters) && before.Parameters[i] != p {
			say("The parameter %s was %s and is %s.", p[0], before.Parameters[i][1], p[1])
		}
	}
	if before.Digest != after.Digest {
		say("The text of the notebook was changed.")
	}
	if before.Version != after.Version {
		say("The program was %s and is %s.", before.Version, after.Version)
	}
	return why
}

// BookChanged says what came into the book between two states of it.
func BookChanged(before, after notebooks.Facts, ch cohort.Changes) []string {
	var why []string
	say := func(format string, args ...any) { why = append(why, fmt.Sprintf(format, args...)) }
	if before.AsOf != after.AsOf {
		say("The as-of day moved from %s to %s: reports and shipments dated in between count now.", before.AsOf, after.AsOf)
	}
	if before.Hash == after.Hash {
		say("The book is the same.")
	} else {
		say("The book changed by %s.", page.Counted(ch.Loads, "load", "loads"))
	}
	for _, a := range []struct {
		cohort.Affected
		one, more string
	}{
		{ch.LateOutcomes, "late outcome: 1 order that had been shipped by then got a report", "late outcomes: %s orders that had been shipped by then got a report"},
		{ch.CorrectedOrders, "1 order was corrected", "%s orders were corrected"},
		{ch.NewOrders, "1 order is new", "%s orders are new"},
		{ch.RemovedOrders, "1 order was removed", "%s orders were removed"},
	} {
		switch {
		case a.Orders == 1:
			say("%s%s.", form.Capitalised(a.one), someOf(a.Affected))
		case a.Orders > 1:
			say("%s%s.", form.Capitalised(fmt.Sprintf(a.more, page.Thousands(a.Orders))), someOf(a.Affected))
		}
	}
	return why
}

func someOf(a cohort.Affected) string {
	if len(a.Some) == 0 {
		return ""
	}
	s := " (" + strings.Join(a.Some, ", ")
	if a.Orders > len(a.Some) {
		s += ", …"
	}
	return s + ")"
}

// rulesChanged tells rules that came, went, or have another condition.
func rulesChanged(before, after Record) []string {
	was, is := texts(before), texts(after)
	var out []string
	for _, name := range bothKeys(was, is) {
		if !strings.HasSuffix(name, notebooks.RuleCondition) || was[name] == is[name] {
			continue
		}
		parts := strings.Split(strings.TrimSuffix(name, notebooks.RuleCondition), ".")
		rule := parts[len(parts)-1]
		switch {
		case was[name] == "":
			out = append(out, fmt.Sprintf("The rule %s is new: %s.", rule, is[name]))
		case is[name] == "":
			out = append(out, fmt.Sprintf("The rule %s is gone; it was: %s.", rule, was[name]))
		default:
			out = append(out, fmt.Sprintf("The rule %s was “%s” and is “%s”.", rule, was[name], is[name]))
		}
	}
	return out
}

func texts(r Record) map[string]string {
	m := map[string]string{}
	for _, v := range r.Values {
		m[v.Name] = v.Text
	}
	return m
}

func bothKeys(a, b map[string]string) []string {
	all := map[string]bool{}
	for k := range a {
		all[k] = true
	}
	for k := range b {
		all[k] = true
	}
	return slices.Sorted(maps.Keys(all))
}

// claimsChanged tells the sentences whose verdict is another now.
func claimsChanged(before, after Record) []string {
	was := map[string]notebooks.Verdict{}
	for _, c := range before.Claims {
		was[c.Text] = c.Verdict
	}
	var out []string
	for _, c := range after.Claims {
		switch v, ok := was[c.Text]; {
		case !ok:
			out = append(out, fmt.Sprintf("“%s” is new: %s.", c.Text, c.Verdict))
		case v != c.Verdict:
			out = append(out, fmt.Sprintf("“%s”: before “%s”, now “%s” (%s).", c.Text, v, c.Verdict, c.Now))
		}
	}
	if len(out) == 0 {
		out = []string{"No claim of the prose changed its verdict."}
	}
	return out
}

// changedValues are the names of the values that read differently, rules apart.
func changedValues(before, after Record) []string {
	was, is := texts(before), texts(after)
	var names []string
	for _, name := range bothKeys(was, is) {
		if was[name] != is[name] && !strings.HasSuffix(name, notebooks.RuleCondition) {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	return names
}

func valuesChanged(before, after Record) page.Table {
	was, is := texts(before), texts(after)
	t := page.Table{ID: "changed", Caption: "Numbers that differ",
		Columns: []page.Column{{Key: "value", Title: "value"}, {Key: "before", Title: "before"}, {Key: "after", Title: "after"}}}
	for _, name := range changedValues(before, after) {
		t.Rows = append(t.Rows, []page.Cell{{Text: review.ValueTitle(name), Value: name}, page.Text(was[name]), page.Text(is[name])})
	}
	t.Total = len(t.Rows)
	if t.Total > shownRows {
		t.Rows = t.Rows[:shownRows]
	}
	return t
}

// shownRows is how many of the numbers that differ are shown.
const shownRows = 200
