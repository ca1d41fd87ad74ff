package workshop

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lastroom/analysis/rules"
	"lastroom/ingest/durable"
	"lastroom/ingest/orderbook"
	"lastroom/notebooks/cache"
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

// A ruling is the rules that are gone by, with names for caches.
type ruling struct {
	list  []rules.Rule
	text  string
	setup string // names rules and costs
	under string // names the rules alone
	file  fs.FileInfo
}

// rules are those that are gone by now. A file of rules that somebody changed while
// the pages are served is read again; while it can't be read those of before hold.
func (w *Workshop) rules() ruling {
	w.ruling.Lock()
	defer w.ruling.Unlock()
	now, err := os.Stat(w.rulesAt())
	was := w.inForce.file
	if (err == nil) != (was != nil) || err == nil && !sameFile(now, was) {
		_ = w.readRules()
	}
	return w.inForce
}

// rulesAt is the file of the rules, which need not be there.
func (w *Workshop) rulesAt() string {
	if w.rulesFile != "" {
		return w.rulesFile
	}
	return rulesBeside(w.book)
}

// readRules reads the rules anew.
func (w *Workshop) readRules() error {
	file, _ := os.Stat(w.rulesAt())
	list, text, err := ReadRules(w.book, w.rulesFile)
	if err != nil {
		return err
	}
	w.inForce = ruling{list: list, text: string(text), file: file,
		setup: cache.Key(string(text), costText(w.costs))[:16], under: cache.Key(string(text))}
	return nil
}

// ChangeRules writes the rules anew as change says, all or nothing: it is given the
// text that the file holds now, or that of the rules which come with the program.
func (w *Workshop) ChangeRules(change func(text []byte) ([]byte, error)) error {
	w.ruling.Lock()
	defer w.ruling.Unlock()
	_, text, err := ReadRules(w.book, w.rulesFile)
	if err != nil {
		return err
	}
	after, err := change(text)
	if err != nil {
		return BadInput(err)
	}
	if _, err := rules.Parse(after); err != nil {
		return BadInput(err)
	}
	file := w.rulesAt()
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	return errors.Join(durable.Write(file, 0o600, after), w.readRules())
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
