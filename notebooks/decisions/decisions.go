// Package decisions is the ledger of what a shop decided about its rules, one line a
// decision in decisions.jsonl beside the book. Lines are added, never changed: what
// mends, ends, takes back or looks back at a decision is a line of its own that names
// it, so the history of each stays.
//
//  1. [Ledger.Read] reads the lines, [Ledger.Add] adds one.
//  2. [Fold] makes of them one [View] a decision, as it stands today.
//  3. [View.Keep] lays the numbers it rested on beside those of the newest run.
package decisions

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/analysis/rules/rulesfile"
	"lastroom/notebooks/archive"
	"lastroom/notebooks/journal"
)

// file is the ledger's name in the folder beside the book.
const file = "decisions.jsonl"

// Does is what a line does to the decision that it names.
type Does string

// What lines do. A look back is the older kind of line, which LooksAt marks.
const (
	Mends     Does = "mends"      // gives it other words, or another day to look at it again
	Ends      Does = "ends"       // it held until a day
	TakesBack Does = "takes back" // it never should have been
)

// A Decision is a line of the ledger: what the shop decided about a rule, the
// numbers it rests on, and when to look whether it kept its promise.
type Decision struct {
	ID    string `json:"id"`
	Rule  string `json:"rule"` // its id, or what was written where there is no such rule
	Words string `json:"words"`
	// Run is the run it rests on; "" where Evidence was worked out for it.
	Run     string     `json:"run,omitempty"`
	Who     string     `json:"who"`
	On      cohort.Day `json:"on"`
	Revisit cohort.Day `json:"revisit"`
	LooksAt string     `json:"looks_at,omitempty"`
	// About is the decision that the line mends, ends or takes back.
	About string `json:"about,omitempty"`
	Does  Does   `json:"does,omitempty"`
	// Last is the last day on which an ended decision held.
	Last *cohort.Day `json:"last,omitempty"`
	// Switch is what was done to the rule.
	Switch *Switch `json:"switch,omitempty"`
	// Evidence are the numbers about the rule, as they were.
	Evidence []archive.RecordValue `json:"evidence"`
}

// A Switch is a change of a rule's days.
type Switch struct {
	Before rulesfile.Days `json:"before"`
	After  rulesfile.Days `json:"after"`
	New    bool           `json:"new,omitempty"` // the rule was written with it
}

// A Ledger is the file of decisions in a folder. It may be used by several
// goroutines.
type Ledger struct {
	Root *os.Root
	mu   sync.Mutex
}

// Read gives all lines, the oldest first. A last line without its end is one that was
// cut short while it was written, and was never taken.
func (l *Ledger) Read() ([]Decision, error) {
	b, err := l.Root.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []Decision
	for no, line := range bytes.Split(journal.Whole(b, json.Valid), []byte("\n")) {
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		var d Decision
		if err := json.Unmarshal(line, &d); err != nil {
			return nil, fmt.Errorf("%s, line %d, is damaged: %w", file, no+1, err)
		}
		all = append(all, d)
	}
	return all, nil
}

// Add adds a line, on the disk when it returns; it takes the place of one that was cut
// short.
func (l *Ledger) Add(d Decision) error {
	line, err := json.Marshal(d)
	if err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	return journal.Append(l.Root, file, os.O_CREATE, append(line, '\n'), json.Valid)
}

// A View is a decision as it stands, with what became of it.
type View struct {
	Decision
	Title  string // of the rule
	Due    bool
	Former []Decision // as it was before it was mended, the oldest first
	Looked []Decision // looks back
	Ended  *Decision
	Taken  *Decision // the line that took it back
	Kept   []Kept
	Newer  string // the newest run that holds any of its numbers
	// Promise is how much of its promise the rule has kept by that run, in words; "" where
	// it does not tell.
	Promise string
}

// Open reports whether it stands, neither ended nor taken back.
func (v View) Open() bool { return v.Ended == nil && v.Taken == nil }

// Fold makes the views of lines as of a day, the newest decision first.
func Fold(lines []Decision, list []rules.Rule, today cohort.Day) []View {
	var out []View
	for _, d := range lines {
		about := d.About + d.LooksAt
		if about == "" {
			v := View{Decision: d, Title: d.Rule}
			if r, ok := Match(list, d.Rule); ok {
				v.Title = r.Title
			}
			out = append(out, v)
			continue
		}
		i := slices.IndexFunc(out, func(v View) bool { return v.ID == about })
		if i < 0 {
			continue // of a decision that somebody took out of the file
		}
		v := &out[i]
		switch {
		case d.LooksAt != "":
			v.Looked, v.Revisit = append(v.Looked, d), d.Revisit
		case d.Does == Mends:
			v.Former = append(v.Former, v.Decision)
			v.Words, v.Who, v.On, v.Revisit = d.Words, d.Who, d.On, d.Revisit
		case d.Does == Ends:
			v.Ended = &d
		case d.Does == TakesBack:
			v.Taken = &d
		}
	}
	for i := range out {
		out[i].Due = out[i].Open() && out[i].Revisit.Known() && out[i].Revisit <= today
	}
	slices.Reverse(out)
	return out
}

// Match finds the rule that a person means by its id or its title, in capitals or
// not.
func Match(list []rules.Rule, said string) (rules.Rule, bool) {
	said = strings.Join(strings.Fields(said), " ")
	for _, same := range []func(r rules.Rule) bool{
		func(r rules.Rule) bool { return r.ID == said },
		func(r rules.Rule) bool { return strings.EqualFold(r.ID, said) },
		func(r rules.Rule) bool { return strings.EqualFold(strings.Join(strings.Fields(r.Title), " "), said) },
	} {
		if i := slices.IndexFunc(list, same); i >= 0 {
			return list[i], true
		}
	}
	return rules.Rule{}, false
}

// AboutRule are the values of a run that name a rule.
func AboutRule(rec archive.Record, rule string) []archive.RecordValue {
	out := []archive.RecordValue{}
	for _, v := range rec.Values {
		if slices.Contains(strings.Split(v.Name, "."), rule) {
			out = append(out, v)
		}
	}
	return out
}
