package notebooks

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"lastroom/analysis/cohort"
	"lastroom/analysis/nearest"
)

// A Param is a declared parameter of a notebook.
type Param struct {
	Name    string
	Label   string // for people; the name where there is none
	Type    string // month, day, integer, number, text, choice
	Choices []string
	From    string // bounds as written, or ""
	Until   string
	Default string // as written; "latest" for a month or a day; "" means it must be given
	// Optional is a text whose default is written as "": it may stay empty.
	Optional bool
	Line     int
}

var paramTypes = []string{"month", "day", "integer", "number", "text", "choice"}

var errNoDay = errors.New("the book has no day yet; load order sheets first, or give a value")

// maxText is the longest text parameter, in characters.
const maxText = 200

// latest is the default that follows the book: the as-of day, or the month that
// MonthToTell gives.
const latest = "latest"

// A Binding is the value of each parameter of a run, in the order declared.
type Binding struct {
	Names []string
	Words []string       // as shown
	Args  map[string]any // as queries get them: string, int64, float64, cohort.Day
}

// Word is the value of a parameter as shown.
func (b Binding) Word(name string) (string, bool) {
	i := slices.Index(b.Names, name)
	if i < 0 {
		return "", false
	}
	return b.Words[i], true
}

// Bind gives every parameter its value: from set, or its default for a state of the
// book. A name that is not declared is refused with the nearest one that is.
func (n *Notebook) Bind(set map[string]string, now Facts) (Binding, error) {
	names := make([]string, len(n.Params))
	for i, p := range n.Params {
		names[i] = p.Name
	}
	for _, k := range slices.Sorted(maps.Keys(set)) {
		if !slices.Contains(names, k) {
			return Binding{}, &Error{File: n.File(), Why: fmt.Sprintf("no parameter is called %q", k), Do: nearest.Meant(k, names)}
		}
	}
	b := Binding{Names: names, Args: map[string]any{}}
	for _, p := range n.Params {
		word, ok := set[p.Name]
		if !ok || word == "" {
			word = p.Default
		}
		if word == "" && !p.Optional {
			return Binding{}, &Error{File: n.File(), Line: p.Line, Why: fmt.Sprintf("the parameter %q has no value", p.Name), Do: "give it one"}
		}
		arg, shown, err := p.read(word, now)
		if err != nil {
			return Binding{}, &Error{File: n.File(), Line: p.Line, Why: fmt.Sprintf("parameter %q: %v", p.Name, err)}
		}
		b.Words = append(b.Words, shown)
		b.Args[p.Name] = arg
	}
	return b, nil
}

func (n *Notebook) File() string { return n.Name + ".md" }

// read is the value of a word, and the word as shown.
func (p Param) read(word string, now Facts) (any, string, error) {
	arg, err := p.parse(word, now)
	if err != nil {
		return nil, "", err
	}
	if err := p.within(arg); err != nil {
		return nil, "", err
	}
	return arg, shown(p.Type, arg), nil
}

// parse reads a word as the parameter's type; a month is its first day.
func (p Param) parse(word string, now Facts) (any, error) {
	switch p.Type {
	case "month":
		if word == latest {
			if !now.AsOf.Known() {
				return nil, errNoDay
			}
			return now.Month.First(), nil
		}
		m, err := cohort.ParseMonth(word)
		return m.First(), err
	case "day":
		if word == latest {
			if !now.AsOf.Known() {
				return nil, errNoDay
			}
			return now.AsOf, nil
		}
		return cohort.ParseDay(word)
	case "integer":
		v, err := strconv.ParseInt(word, 10, 64)
		if err != nil {
			return nil, fmt.Errorf("%q is not a whole number", word)
		}
		return v, nil
	case "number":
		v, err := strconv.ParseFloat(word, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%q is not a number; write it as 12.5", word)
		}
		return v, nil
	case "choice":
		if !slices.Contains(p.Choices, word) {
			return nil, fmt.Errorf("%q is no choice; %s", word, nearest.Meant(word, p.Choices))
		}
		return word, nil
	}
	if utf8.RuneCountInString(word) > maxText || !utf8.ValidString(word) || strings.ContainsRune(word, 0) {
		return nil, fmt.Errorf("a text has at most %d characters, in UTF-8", maxText)
	}
	return word, nil
}

// within checks the bounds.
func (p Param) within(arg any) error {
	for _, end := range []struct {
		word, say string
		bad       int
	}{{p.From, "at least", -1}, {p.Until, "at most", 1}} {
		if end.word == "" {
			continue
		}
		bound, err := p.parse(end.word, Facts{AsOf: cohort.NoDay})
		if err != nil {
			return err
		}
		if compare(arg, bound) == end.bad {
			return fmt.Errorf("%s is out of bounds; it must be %s %s", shown(p.Type, arg), end.say, end.word)
		}
	}
	return nil
}

// compare orders two values of one parameter type.
func compare(a, b any) int {
	switch a := a.(type) {
	case cohort.Day:
		return cmp.Compare(a, b.(cohort.Day))
	case int64:
		return cmp.Compare(a, b.(int64))
	case float64:
		return cmp.Compare(a, b.(float64))
	}
	return 0
}

// shown is a value as a person writes it.
func shown(typ string, arg any) string {
	switch v := arg.(type) {
	case cohort.Day:
		if typ == "month" {
			return v.Month().String()
		}
		return v.String()
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case string:
		return v
	}
	return ""
}

// youngest is how many days before the as-of day a month must have ended to be
// looked at unasked: before that hardly any report is in.
const youngest = 30

// MonthToTell is the shipping month that is looked at unasked: of those in which boots
// were shipped, the last that ended at least 30 days before the day. Where there is none
// it is the first of them, and without any the last month that ended so long ago.
func MonthToTell(asOf cohort.Day, shipped []cohort.Month) cohort.Month {
	if !asOf.Known() {
		return 0
	}
	last := (asOf - youngest + 1).Month() - 1
	month := last
	for i, m := range shipped { // the oldest first
		if i == 0 || m <= last {
			month = m
		}
	}
	return month
}

// ParseAsOf reads an as-of day; "" and "latest" are the newest in the book.
func ParseAsOf(s string) (cohort.Day, error) {
	if s == "" || s == latest {
		return cohort.NoDay, nil
	}
	return cohort.ParseDay(s)
}
