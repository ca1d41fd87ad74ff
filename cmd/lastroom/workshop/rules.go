package workshop

import (
	"context"
	"errors"
	"fmt"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop/ruling"
)

// ReadRules reads a rules file as ruling.Read does.
func ReadRules(book, file string) ([]rules.Rule, []byte, error) {
	list, text, err := ruling.Read(book, file)
	return list, text, BadInput(err)
}

// ChangeRules writes the rules file anew as change says of its text, all or nothing.
func (w *Workshop) ChangeRules(change func(text []byte) ([]byte, error)) error {
	return BadInput(w.ruled.Change(change))
}

// RuleList are the shop's rules, or those that come with the program.
func (w *Workshop) RuleList() []rules.Rule { return w.ruled.Now().List }

// RuleColumns are the columns that a rule's condition may be about.
func (w *Workshop) RuleColumns(ctx context.Context) (columns []string, err error) {
	src, err := w.Look(ctx, cohort.NoDay)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	return src.FormColumns(ctx)
}

// filled completes the book's costs with those given by hand.
func filled(book, given rules.Costs) rules.Costs {
	for _, p := range []struct{ have, other **float64 }{
		{&book.Remake, &given.Remake}, {&book.Callback, &given.Callback},
		{&book.Adjustment, &given.Adjustment}, {&book.DayOfDelay, &given.DayOfDelay},
	} {
		if *p.have == nil {
			*p.have = *p.other
		}
	}
	return book
}

// costText spells out costs: a pointer's address says nothing of its value.
func costText(c rules.Costs) string {
	s := ""
	for _, p := range []*float64{c.Remake, c.Adjustment, c.Callback, c.DayOfDelay} {
		if p == nil {
			s += "- "
		} else {
			s += fmt.Sprint(*p, " ")
		}
	}
	return s
}
