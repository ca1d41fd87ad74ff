package sheets

import (
	"strings"

	"lastroom/analysis/form"
	"lastroom/ingest/lengths"
)

// number reads {column, side, point, clothing, height, unit}.
func (f *yamlFile) number(n node) (Number, error) {
	if !n.isTable {
		return Number{}, f.wrong(n, "a number needs {column, side, point}")
	}
	out := Number{at: n}
	for _, p := range n.table {
		var err error
		switch p.key {
		case "column":
			out.Header, err = f.one(p.value)
		case "side":
			out.Side, err = f.word(p.value, sides)
		case "clothing":
			out.Clothing, err = f.word(p.value, form.Texts(form.Clothings))
		case "point":
			out.Point, err = f.word(p.value, points)
		case "height":
			out.Height, err = f.one(p.value)
		case "unit":
			out.Unit, err = f.unit(p.value)
		default:
			err = f.wrong(p.at, "%q is none of column, side, clothing, point, height, unit", p.key)
		}
		if err != nil {
			return out, err
		}
	}
	if out.Header == "" || out.Side == "" || out.Point == "" {
		return out, f.wrong(n, "a number needs column, side and point")
	}
	if (out.Point == "leg") != (out.Height != "") {
		return out, f.wrong(n, "a leg girth needs its height, and no other point has one")
	}
	return out, nil
}

func (f *yamlFile) numbers(n node) (out []Number, err error) {
	if !n.isList {
		return nil, f.wrong(n, "numbers must be a list of {column, side, point}")
	}
	for _, item := range n.list {
		number, err := f.number(item)
		if err != nil {
			return nil, err
		}
		out = append(out, number)
	}
	return out, nil
}

// from reads a column's name, or {column, words}, or {always}.
func (f *yamlFile) from(n node) (out From, err error) {
	if n.isText {
		out.Header, err = f.one(n)
		return out, err
	}
	if !n.isTable {
		return out, f.wrong(n, "needs the name of a column, {column, words} or {always}")
	}
	for _, p := range n.table {
		switch p.key {
		case "column":
			out.Header, err = f.one(p.value)
		case "always":
			out.Always, err = f.one(p.value)
		case "words":
			out.Words, err = f.words(p.value)
		default:
			err = f.wrong(p.at, "%q is none of column, words, always", p.key)
		}
		if err != nil {
			return out, err
		}
	}
	if (out.Header == "") == (out.Always == "") {
		return out, f.wrong(n, "needs either column or always")
	}
	return out, nil
}

func (f *yamlFile) words(n node) (map[string]string, error) {
	if !n.isTable {
		return nil, f.wrong(n, "words must be a table of the shop's word and the sheet's")
	}
	out := map[string]string{}
	for _, p := range n.table {
		if !p.value.isText {
			return nil, f.wrong(p.value, "a word must be a plain text")
		}
		out[strings.ToLower(strings.TrimSpace(p.key))] = p.value.text
	}
	return out, nil
}

func (f *yamlFile) one(n node) (string, error) {
	if !n.isText || strings.TrimSpace(n.text) == "" {
		return "", f.wrong(n, "needs a plain text")
	}
	return n.text, nil
}

func (f *yamlFile) texts(n node) (out []string, err error) {
	if !n.isList {
		one, err := f.one(n)
		return []string{one}, err
	}
	for _, item := range n.list {
		one, err := f.one(item)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}

func (f *yamlFile) word(n node, words []string) (string, error) {
	c := Column{Kind: Word, Words: words}
	w, ok := c.word(n.text)
	if !n.isText || !ok {
		return "", f.wrong(n, "%q is none of %s", n.text, strings.Join(words, ", "))
	}
	return w, nil
}

func (f *yamlFile) unit(n node) (form.Unit, error) {
	u, ok := lengths.ParseUnit(n.text)
	if !n.isText || !ok || u == form.NoUnit {
		return u, f.wrong(n, "%q is none of mm, cm, in", n.text)
	}
	return u, nil
}
