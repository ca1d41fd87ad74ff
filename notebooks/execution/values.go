package execution

import (
	"bytes"
	"fmt"
	"html"
	"sort"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/frame"
	"lastroom/analysis/nearest"
	"lastroom/notebooks"
	"lastroom/reports/page"
)

// values are the named values of a run: cell.value, and the parameters.
type values map[string]page.Value

// find is the value of a target, or why there is none.
func (vs values) find(target string, failed map[string]string) (page.Value, error) {
	if v, ok := vs[target]; ok {
		return v, nil
	}
	cell, _, _ := strings.Cut(target, ".")
	if why, ok := failed[cell]; ok {
		return page.Value{}, fmt.Errorf("cell %q %s", cell, why)
	}
	var near []string
	for name := range vs {
		if name == cell || strings.HasPrefix(name, cell+".") {
			near = append(near, name)
		}
	}
	sort.Strings(near)
	return page.Value{}, fmt.Errorf("there is no value %q; %s", target, nearest.Meant(target, near))
}

// ofFrame are the values of a query: the number of rows, each column of the
// one row, or each column of each row under the row's first entry. Of two rows
// with the same first entry neither has values.
func (vs values) ofFrame(cell string, f frame.Frame) {
	rows := f.Nrow()
	vs[cell+".rows"] = notebooks.Exact(cell+".rows", page.Thousands(rows), float64(rows), rows)
	if rows == 1 {
		vs.ofRow(cell, f, 0, 0)
	}
	keys, times := make([]string, rows), map[string]int{}
	for i := range keys {
		keys[i] = strings.ReplaceAll(textOf(f.Value(i, 0)), " ", "-")
		times[keys[i]]++
	}
	for i, key := range keys {
		if times[key] == 1 && key != "" {
			vs.ofRow(cell+"."+key, f, i, 1)
		}
	}
}

// ofRow names the cells of a row from a column on.
func (vs values) ofRow(prefix string, f frame.Frame, row, from int) {
	for j := from; j < len(f.Columns); j++ {
		name := prefix + "." + f.Columns[j].Name
		switch v := f.Value(row, j).(type) {
		case int:
			vs[name] = notebooks.Exact(name, page.Thousands(v), float64(v), 1)
		case float64:
			vs[name] = notebooks.Exact(name, numberText(v), v, 1)
		default:
			vs[name] = notebooks.Words(name, textOf(v))
		}
	}
}

// textOf is a cell of a query, or a parameter, as people read it; "not known" for nil.
func textOf(v any) string {
	switch v := v.(type) {
	case nil:
		return "not known"
	case string:
		return v
	case int:
		return strconv.Itoa(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return numberText(v)
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case cohort.Day:
		return v.String()
	}
	return fmt.Sprint(v)
}

// numberText writes a number with up to three decimals where it has them.
func numberText(x float64) string {
	s := page.Fixed(x, 3)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// fill turns the links of prose into what they say now, and lists its claims.
func (vs values) fill(p *notebooks.Prose, failed map[string]string) (out []notebooks.Filled, claims []notebooks.Claim) {
	for _, l := range p.Links {
		v, err := vs.find(l.Target, failed)
		switch {
		case l.Claim:
			c := notebooks.Claim{Line: l.Line, Text: l.Text, Target: l.Target, Test: l.Test, Verdict: notebooks.NotTested}
			if err != nil {
				c.Why = err.Error()
			} else {
				c.Verdict, c.Why = l.Judge(v)
				c.Now = notebooks.InWords(v, "")
			}
			out, claims = append(out, filled(c)), append(claims, c)
		case err != nil:
			why := "not known: " + err.Error()
			out = append(out, notebooks.Filled{HTML: tag("mark", why), Text: "[" + why + "]"})
		default:
			s := notebooks.InWords(v, l.Test)
			out = append(out, notebooks.Filled{HTML: tag("span", s), Text: s})
		}
	}
	return out, claims
}

// filled shows a claim: plainly where it holds, flagged in words where not.
func filled(c notebooks.Claim) notebooks.Filled {
	note := "holds: " + c.Now
	if c.Verdict != notebooks.Holds {
		note = string(c.Verdict)
		if c.Why != "" {
			note += ": " + c.Why
		}
		if c.Now != "" {
			note += "; now " + c.Now
		}
	}
	var b bytes.Buffer
	if c.Verdict == notebooks.Holds {
		b.WriteString(html.EscapeString(c.Text) + " <small>[" + html.EscapeString(note) + "]</small>")
	} else {
		b.Write(tag("mark", c.Text))
		b.WriteString(" <strong>[" + html.EscapeString(note) + "]</strong>")
	}
	return notebooks.Filled{HTML: b.Bytes(), Text: c.Text + " [" + note + "]"}
}

func tag(name, text string) []byte {
	return []byte("<" + name + ">" + html.EscapeString(text) + "</" + name + ">")
}
