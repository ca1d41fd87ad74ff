// Package rules scores intake rules: which first forms a rule would hold, which
// remakes it would have caught, what that costs, and whether a rule that was
// switched on kept what it promised.
//
// A rule is data: an id, a title, a reason and one condition over the columns
// of the order book's view "form". This package reads the rules file and does
// the arithmetic; the condition itself is evaluated by the order book, which
// hands over one state a first form.
//
//  1. [Parse] reads a rules file, [Default] is the embedded one.
//  2. The order book evaluates each rule on the first form of each order: an
//     [Applied] rule.
//  3. [Score] makes the scorecard, a [Scorecard].
package rules

import (
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/shallow"
)

// A Rule says which forms to hold, and why. When is one boolean SQL expression
// over the columns of the view "form".
type Rule struct {
	ID    string `yaml:"id" json:"rule"`
	Title string `yaml:"title" json:"title"`
	Why   string `yaml:"why" json:"why"`
	When  string `yaml:"when" json:"when"`
	// Mends are the faults that a call-back under the rule mends.
	Mends []string   `yaml:"mends" json:"mends"`
	From  cohort.Day `yaml:"from" json:"from"`   // the day it was switched on; NoDay: not in force
	Until cohort.Day `yaml:"until" json:"until"` // the last day it was in force; NoDay: still is
}

// InForceOn reports whether the rule was switched on by a day and not ended before
// it. What has no day counts as new.
func (r Rule) InForceOn(day cohort.Day) bool {
	switch {
	case !r.From.Known():
		return false
	case !day.Known():
		return !r.Until.Known()
	}
	return r.From <= day && (!r.Until.Known() || day <= r.Until)
}

//go:embed rules.yaml
var defaultYAML []byte

// DefaultYAML is the text of the embedded rules file, to be copied and edited.
func DefaultYAML() []byte { return append([]byte(nil), defaultYAML...) }

// Default are the embedded rules: one for each fault of the catalogue, its id
// the fault's id, and a few combinations.
func Default() []Rule {
	rules, err := Parse(defaultYAML)
	if err != nil {
		return nil // the package's test keeps the embedded file readable
	}
	return rules
}

// OwnTitle reports whether a rule's title is the shop's own words: none that an embedded
// rule has. Such a title is shown as it was written, in whichever language.
func OwnTitle(title string) bool { return !embeddedTitles()[title] }

var embeddedTitles = sync.OnceValue(func() map[string]bool {
	titles := map[string]bool{}
	for _, r := range Default() {
		titles[r.Title] = true
	}
	return titles
})

type ruleText struct {
	ID    string `yaml:"id"`
	Title string `yaml:"title"`
	Why   string `yaml:"why"`
	When  string `yaml:"when"`
	From  string `yaml:"from"`
	Until string `yaml:"until"`
	Mends mended `yaml:"mends"`
}

// mended is "all", one fault or a list of faults.
type mended []string

// UnmarshalYAML reads a word or a list of words.
func (m *mended) UnmarshalYAML(text []byte) error {
	var one string
	if err := yaml.Unmarshal(text, &one); err == nil {
		*m = mended{one}
		return nil
	}
	return yaml.Unmarshal(text, (*[]string)(m))
}

// maxRules is how many rules a file may hold.
const maxRules = 500

// Parse reads a rules file: a YAML list of rules. An unknown key, a missing id
// or condition, an id that stands twice, or a day that is no day is an error in
// plain words, with line and column where the reader knows them.
func Parse(text []byte) ([]Rule, error) {
	if err := shallow.Check(text); err != nil {
		return nil, fmt.Errorf("the rules file %w", err)
	}
	read, err := readYAML(text)
	if err != nil {
		return nil, fmt.Errorf("the rules file can't be read; it is a list of rules with the keys id, title, why, when, mends, from, until:\n%s", yaml.FormatError(err, false, true))
	}
	if len(read) == 0 {
		return nil, errors.New("the rules file holds no rule")
	}
	if len(read) > maxRules {
		return nil, fmt.Errorf("the rules file holds %d rules; at most %d are read", len(read), maxRules)
	}
	seen := map[string]bool{}
	rules := make([]Rule, 0, len(read))
	for i, t := range read {
		r, err := t.rule()
		if err != nil {
			return nil, fmt.Errorf("rule %d of the rules file: %w", i+1, err)
		}
		if seen[r.ID] {
			return nil, fmt.Errorf("rule %d of the rules file: the id %q stands twice", i+1, r.ID)
		}
		seen[r.ID] = true
		rules = append(rules, r)
	}
	return rules, nil
}

// readYAML keeps a panic of the YAML reader on hostile text (found by fuzzing)
// from ending the program.
func readYAML(text []byte) (read []ruleText, err error) {
	defer func() {
		if p := recover(); p != nil {
			read, err = nil, errors.New("it is no such list")
		}
	}()
	err = yaml.UnmarshalWithOptions(text, &read, yaml.Strict())
	return read, err
}

func (t ruleText) rule() (r Rule, err error) {
	r = Rule{ID: strings.TrimSpace(t.ID), Title: t.Title, Why: t.Why, When: strings.TrimSpace(t.When)}
	if r.ID == "" {
		return r, errors.New("it has no id")
	}
	if r.When == "" {
		return r, fmt.Errorf("%q has no condition; give it under when, as tape_marks_missing", r.ID)
	}
	if r.Title == "" {
		r.Title = r.ID
	}
	if r.Mends, err = t.mends(r.When); err != nil {
		return r, fmt.Errorf("%q, mends: %w", r.ID, err)
	}
	if r.From, err = day(t.From); err != nil {
		return r, fmt.Errorf("%q, from: %w", r.ID, err)
	}
	if r.Until, err = day(t.Until); err != nil {
		return r, fmt.Errorf("%q, until: %w", r.ID, err)
	}
	if r.From.Known() && r.Until.Known() && r.Until < r.From {
		return r, fmt.Errorf("%q ends (%s) before it starts (%s)", r.ID, r.Until, r.From)
	}
	return r, nil
}

// mends are the faults that a call-back under the rule mends, as written. By
// default a rule of one fault mends that fault; if it is read off the numbers
// they are taken anew, and with them goes all that is read off or counted on
// them. Any other rule mends every fault that the form has.
func (t ruleText) mends(when string) ([]string, error) {
	mends := func(which func(f form.Fault) bool) (ids []string) {
		for _, f := range form.Faults {
			if which(f) {
				ids = append(ids, f.ID)
			}
		}
		return ids
	}
	switch {
	case len(t.Mends) == 1 && t.Mends[0] == "all":
	case len(t.Mends) > 0:
		for _, id := range t.Mends {
			if _, ok := form.FaultIndex(id); !ok {
				return nil, fmt.Errorf("there is no fault %q; give faults of the catalogue, as tape-marks-missing, or all", id)
			}
		}
		return mends(func(f form.Fault) bool { return slices.Contains(t.Mends, f.ID) }), nil
	default:
		if f, ok := form.FaultIndex(strings.ReplaceAll(when, "_", "-")); ok {
			if form.Faults[f].Kind == form.Evident {
				return mends(func(f form.Fault) bool { return f.Kind != form.Noted }), nil
			}
			return []string{form.Faults[f].ID}, nil
		}
	}
	return mends(func(form.Fault) bool { return true }), nil
}

func day(s string) (cohort.Day, error) {
	if s = strings.TrimSpace(s); s == "" {
		return cohort.NoDay, nil
	}
	return cohort.ParseDay(s)
}
