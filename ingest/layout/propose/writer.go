package propose

import (
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// line writes a line of the mapping, as far in as what it belongs to.
func (p *proposer) line(format string, args ...any) {
	fmt.Fprintf(&p.out, p.prefix+format+"\n", args...)
}

// seen writes a line that rests on evidence, which stands behind it and in the
// report.
func (p *proposer) seen(l *look, setting, format string, args ...any) {
	why := fmt.Sprintf(format, args...)
	p.line("%s   # %s", setting, why)
	p.evidence = append(p.evidence, fmt.Sprintf("%s: %s, since %s.", l.grid.Where(), setting, why))
}

// ask adds a question; it stands in the mapping as a comment too.
func (p *proposer) ask(format string, args ...any) {
	q := fmt.Sprintf(format, args...)
	if !slices.Contains(p.questions, q) {
		p.questions = append(p.questions, q)
	}
	for line := range strings.Lines(q) {
		fmt.Fprintf(&p.out, "%s# ? %s\n", p.prefix, strings.TrimRight(line, "\n"))
	}
}

// fileNames are the patterns of a group's files, with as many folders as tell
// them apart. For a page they fit files to come: figures may be others, and where
// all files are of all tables any file is meant, and there is no pattern.
func (p *proposer) fileNames(g []*look) (names []string) {
	if p.paged && p.sameFiles() {
		return nil
	}
	for _, l := range g {
		name := l.file.Table.Name
		if p.paged {
			name = p.pattern(name, g)
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	return names
}

// sameFiles reports whether every table stands in every file.
func (p *proposer) sameFiles() bool {
	files := map[string]bool{}
	for _, g := range p.all {
		for _, l := range g {
			files[l.file.Table.Name] = true
		}
	}
	return !slices.ContainsFunc(p.groups, func(g []*look) bool {
		here := map[string]bool{}
		for _, l := range g {
			here[l.file.Table.Name] = true
		}
		return len(here) < len(files)
	})
}

// pattern is the widest pattern for a group's file that fits none of the others.
func (p *proposer) pattern(name string, g []*look) string {
	base := path.Base(name)
	for _, pattern := range []string{figures.ReplaceAllString(base, "*"), base, figures.ReplaceAllString(name, "*")} {
		other := slices.ContainsFunc(p.all, func(o []*look) bool {
			return o[0] != g[0] && slices.ContainsFunc(o, func(l *look) bool {
				segments := strings.Split(l.file.Table.Name, "/")
				tail := strings.Join(segments[max(0, len(segments)-1-strings.Count(pattern, "/")):], "/")
				ok, err := path.Match(strings.ToLower(pattern), strings.ToLower(tail))
				return err != nil || ok && l.file.Table.Name != name
			})
		})
		if !other {
			return pattern
		}
	}
	return name
}

var yearTab = regexp.MustCompile(`^20[0-9][0-9]$`)

// nameOf is the name of a table where its files don't name it.
func (p *proposer) nameOf(l *look) string {
	if name := p.names[l]; name != "" {
		return name
	}
	return l.id
}

func (c *column) ref() string {
	if c.again > 0 && c.path == c.name {
		return fmt.Sprintf("%s [%d]", c.name, c.again)
	}
	if c.again > 0 {
		return c.path
	}
	return c.name
}

// text writes a text as YAML takes it for a text.
func text(s string) string {
	if s != "" && strings.Trim(strings.ToLower(s), "abcdefghijklmnopqrstuvwxyz0123456789. äöüß_éèñí") == "" && s == strings.TrimSpace(s) && strings.Trim(s, "0123456789.") != "" {
		switch strings.ToLower(s) {
		case "y", "n", "yes", "no", "true", "false", "on", "off", "null":
		default:
			return s
		}
	}
	return strconv.Quote(s)
}

func list(texts []string) string {
	if len(texts) == 1 {
		return text(texts[0])
	}
	var out []string
	for _, t := range texts {
		out = append(out, text(t))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// words writes a table of words.
func words(pairs map[string]string) string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(pairs)) {
		out = append(out, text(k)+": "+text(pairs[k]))
	}
	return "{" + strings.Join(out, ", ") + "}"
}

func some(texts []string, n int) []string {
	if len(texts) > n {
		return append(texts[:n:n], "…")
	}
	return texts
}
