package layout

import (
	"regexp"
	"strings"

	"lastroom/ingest/wording"
	"lastroom/ingest/yaml"
)

// A pattern of headers: {point}, {side} and {height} stand for any word for
// them, other text for itself.
type pattern struct {
	*regexp.Regexp
	ofPath bool // of the whole header path, "LEFT / Ball"
}

// says reports whether the header says what a placeholder stands for.
func (p *pattern) says(name string) bool { return p != nil && p.SubexpIndex(name) >= 0 }

var (
	placeholder = regexp.MustCompile(`\{[a-z]+\}`)
	blanks      = regexp.MustCompile(`\s+`)
)

func (r reader) pattern(n yaml.Node) (*pattern, error) {
	text, err := r.One(n)
	if err != nil {
		return nil, err
	}
	stands := map[string]string{"side": anyOf(wording.Sides), "point": anyOf(wording.Points), "height": wording.HeightText}
	var b strings.Builder
	last := 0
	for _, at := range placeholder.FindAllStringIndex(text, -1) {
		name := text[at[0]+1 : at[1]-1]
		if stands[name] == "" {
			return nil, r.Wrong(n, "{%s} is none of {point}, {side}, {height}", name)
		}
		b.WriteString(literal(text[last:at[0]]) + "(?P<" + name + ">" + stands[name] + ")")
		last = at[1]
	}
	if last == 0 {
		return nil, r.Wrong(n, "a pattern of columns holds {point}, {side} or {height}; for one column write column")
	}
	re, err := regexp.Compile("^" + b.String() + literal(text[last:]) + "$")
	if err != nil {
		return nil, r.Wrong(n, "can't be read as a pattern")
	}
	return &pattern{re, strings.Contains(text, " / ")}, nil
}

// literal is text of a pattern as a regular expression, in which any run of
// blanks fits any other or none.
func literal(text string) string {
	var parts []string
	for _, part := range blanks.Split(strings.ToLower(text), -1) {
		parts = append(parts, regexp.QuoteMeta(part))
	}
	return strings.Join(parts, `\s*`)
}

// anyOf is an alternative of all words of a dictionary, longest first.
func anyOf(words map[string]string) string {
	var out []string
	for _, w := range wording.ByLength(words) {
		out = append(out, regexp.QuoteMeta(w))
	}
	return strings.Join(out, "|")
}
