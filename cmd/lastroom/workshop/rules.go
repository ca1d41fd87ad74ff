package workshop

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lastroom/analysis/rules"
	"lastroom/ingest/orderbook"
)

// ReadRules reads a rules file; without one, the shop's own that stands beside
// the book, or else the one that comes with the program. It gives the text too.
func ReadRules(book, file string) ([]rules.Rule, []byte, error) {
	own := file == ""
	if own {
		file = rulesBeside(book)
	}
	text, err := os.ReadFile(file)
	if own && errors.Is(err, fs.ErrNotExist) {
		return rules.Default(), rules.DefaultYAML(), nil
	}
	if err != nil {
		return nil, nil, BadInput(fmt.Errorf("can't read the rules: %w", err))
	}
	list, err := rules.Parse(text)
	if err != nil {
		return nil, nil, BadInput(fmt.Errorf("%s: %w", file, err))
	}
	return list, text, nil
}

// rulesBeside is where a shop keeps its own rules.
func rulesBeside(book string) string {
	return filepath.Join(orderbook.FilesOf(book).Dir, "rules.yaml")
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
