// Package rulesfile changes the text of a rules file: a rule's days are set, or a
// rule is added. All else stays as its people wrote it, with its comments and its
// order. What comes out is read again and held to what was meant, so that a file laid
// out in a way that is not understood here is refused and never damaged.
package rulesfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
)

// errByHand is the error of a file that can only be changed by hand.
var errByHand = errors.New("the rules file is laid out in a way that can't be changed here: write each rule as lines of its own, beginning with - id, or change the file by hand")

// Days are when a rule is in force; NoDay: not at all, or with no end.
type Days struct {
	From  cohort.Day `json:"from"`
	Until cohort.Day `json:"until"`
}

// DaysOf are those of a rule.
func DaysOf(r rules.Rule) Days { return Days{r.From, r.Until} }

// SetDays gives the text with a rule's days set.
func SetDays(text []byte, id string, days Days) ([]byte, error) {
	list, err := rules.Parse(text)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(list, func(r rules.Rule) bool { return r.ID == id })
	if at < 0 {
		return nil, fmt.Errorf("there is no rule %q in the rules file", id)
	}
	list[at].From, list[at].Until = days.From, days.Until
	lines := strings.Split(string(text), "\n")
	items, indent := itemsOf(lines)
	if len(items) != len(list) {
		return nil, errByHand
	}
	end := len(lines)
	if at+1 < len(items) {
		end = items[at+1]
	}
	key := strings.Repeat(" ", indent+2)
	var item []string
	last := 0 // after the last line that holds anything
	for _, line := range lines[items[at]:end] {
		if strings.HasPrefix(line, key+"from:") || strings.HasPrefix(line, key+"until:") {
			continue
		}
		item = append(item, line)
		if trimmed := strings.TrimSpace(line); trimmed != "" && !strings.HasPrefix(trimmed, "#") {
			last = len(item)
		}
	}
	var set []string
	for _, d := range []struct {
		name string
		day  cohort.Day
	}{{"from", days.From}, {"until", days.Until}} {
		if d.day.Known() {
			set = append(set, key+d.name+": "+d.day.String())
		}
	}
	out := slices.Concat(lines[:items[at]], item[:last], set, item[last:], lines[end:])
	return held([]byte(strings.Join(out, "\n")), list)
}

// itemsOf are the lines at which the rules begin, and how far in.
func itemsOf(lines []string) (items []int, indent int) {
	indent = -1
	for i, line := range lines {
		trimmed := strings.TrimLeft(line, " ")
		if !strings.HasPrefix(trimmed, "- ") {
			continue
		}
		if in := len(line) - len(trimmed); indent < 0 || in == indent {
			indent = in
			items = append(items, i)
		}
	}
	return items, indent
}

// Add gives the text with one more rule at its end. What the rule mends is what
// follows from its condition.
func Add(text []byte, r rules.Rule) ([]byte, error) {
	list, err := rules.Parse(text)
	if err != nil {
		return nil, err
	}
	_, indent := itemsOf(strings.Split(string(text), "\n"))
	if indent < 0 {
		return nil, errByHand
	}
	in := strings.Repeat(" ", indent)
	var b bytes.Buffer
	b.Write(bytes.TrimRight(text, "\n"))
	fmt.Fprintf(&b, "\n\n%s- id: %s\n", in, quoted(r.ID))
	for _, line := range [][2]string{{"title", r.Title}, {"why", r.Why}, {"when", r.When}} {
		fmt.Fprintf(&b, "%s  %s: %s\n", in, line[0], quoted(line[1]))
	}
	if r.From.Known() {
		fmt.Fprintf(&b, "%s  from: %s\n", in, r.From)
	}
	if r.Until.Known() {
		fmt.Fprintf(&b, "%s  until: %s\n", in, r.Until)
	}
	return held(b.Bytes(), append(list, r))
}

// quoted is a text as YAML reads it in double quotes.
func quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	_ = e.Encode(s) // a text always can be
	return strings.TrimSuffix(b.String(), "\n")
}

// held is a text that reads as meant.
func held(text []byte, meant []rules.Rule) ([]byte, error) {
	got, err := rules.Parse(text)
	if err != nil {
		return nil, errors.Join(errByHand, err)
	}
	if !reflect.DeepEqual(got, meant) {
		return nil, errByHand
	}
	return text, nil
}

// NewID is an id for a rule of a title that no rule of the list has.
func NewID(title string, list []rules.Rule) string {
	var b strings.Builder
	for _, word := range strings.FieldsFunc(strings.ToLower(title), func(r rune) bool { return !('a' <= r && r <= 'z' || '0' <= r && r <= '9') }) {
		if b.Len() > 0 {
			b.WriteByte('-')
		}
		if b.Len()+len(word) > mostID {
			break
		}
		b.WriteString(word)
	}
	id := strings.Trim(b.String(), "-")
	if id == "" || id == rules.Tried || id == rules.ModelID {
		id = "own-rule"
	}
	base := id
	for n := 2; slices.ContainsFunc(list, func(r rules.Rule) bool { return r.ID == id }); n++ {
		id = fmt.Sprintf("%s-%d", base, n)
	}
	return id
}

// mostID keeps ids short enough for tables.
const mostID = 40
