package notebooks

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/nearest"
	"lastroom/analysis/shallow"
)

// front is the YAML in front of a notebook.
type front struct {
	Title      string       `yaml:"title"`
	For        string       `yaml:"for"`
	Parameters []frontParam `yaml:"parameters"`
}

type frontParam struct {
	Name    string   `yaml:"name"`
	Label   string   `yaml:"label"`
	Type    string   `yaml:"type"`
	Choices []string `yaml:"choices"`
	Of      string   `yaml:"of"` // a list the program knows, instead of choices
	From    string   `yaml:"from"`
	Until   string   `yaml:"until"`
	Default *string  `yaml:"default"`
}

var (
	frontKeys  = []string{"title", "for", "parameters"}
	paramKeys  = []string{"name", "label", "type", "choices", "of", "from", "until", "default"}
	plainName  = regexp.MustCompile(`^[a-z][a-z0-9_]{0,39}$`)
	frontFence = []byte("---\n")
)

// choiceLists are the lists of choices the program knows by name.
var choiceLists = map[string]func() []string{"faults": form.FaultIDs}

// splitFront cuts the front matter off; lines is how many lines it took.
func splitFront(src []byte) (yaml, body []byte, lines int, ok bool) {
	if !bytes.HasPrefix(src, frontFence) {
		return nil, src, 0, false
	}
	rest := src[len(frontFence):]
	end := 0
	if !bytes.HasPrefix(rest, frontFence) {
		i := bytes.Index(rest, []byte("\n---\n"))
		if i < 0 {
			return nil, src, 0, false
		}
		end = i + 1
	}
	yaml = rest[:end]
	return yaml, rest[end+len(frontFence):], bytes.Count(yaml, []byte("\n")) + 2, true
}

// readFront reads the front matter into n. The YAML reader panics on some
// hostile text (goccy/go-yaml v1.19.2 on "!0 000"); that is an error here.
func (n *Notebook) readFront(text []byte) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = &Error{File: n.File(), Line: 1, Why: "the front matter can't be read", Do: "write it as the help shows"}
		}
	}()
	if err := shallow.Check(text); err != nil {
		return &Error{File: n.File(), Line: 1, Why: "the front matter " + err.Error(), Do: "write it as the help shows"}
	}
	if err := n.checkFrontKeys(text); err != nil {
		return err
	}
	var f front
	if err := yaml.Unmarshal(text, &f); err != nil {
		return n.yamlError(err)
	}
	n.Title, n.For = strings.TrimSpace(f.Title), strings.TrimSpace(f.For)
	if n.Title == "" {
		return &Error{File: n.File(), Line: 1, Why: "the front matter has no title", Do: "add a line like title: One fault in depth"}
	}
	for i, p := range f.Parameters {
		if err := n.addParam(p, paramLine(text, i)); err != nil {
			return err
		}
	}
	return nil
}

// checkFrontKeys refuses keys that mean nothing, with the nearest that do.
func (n *Notebook) checkFrontKeys(text []byte) error {
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return n.yamlError(err)
	}
	for _, doc := range file.Docs {
		if err := n.checkKeys(doc.Body, frontKeys); err != nil {
			return err
		}
	}
	return nil
}

func (n *Notebook) checkKeys(node ast.Node, known []string) error {
	m, ok := node.(*ast.MappingNode)
	if !ok {
		return nil
	}
	for _, kv := range m.Values {
		key := kv.Key.String()
		line := kv.Key.GetToken().Position.Line + 1
		if !slices.Contains(known, key) {
			return &Error{File: n.File(), Line: line, Why: fmt.Sprintf("the front matter knows no %q", key), Do: nearest.Meant(key, known)}
		}
		if list, ok := kv.Value.(*ast.SequenceNode); ok && key == "parameters" {
			for _, v := range list.Values {
				if err := n.checkKeys(v, paramKeys); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// paramLine is the line of the i-th parameter's name.
func paramLine(text []byte, i int) int {
	for no, line := range bytes.Split(text, []byte("\n")) {
		if bytes.HasPrefix(bytes.TrimLeft(line, " -"), []byte("name:")) {
			if i == 0 {
				return no + 2
			}
			i--
		}
	}
	return 1
}

// yamlError is an error of the YAML reader with its line.
func (n *Notebook) yamlError(err error) error {
	line, why := 1, err.Error()
	var y yaml.Error
	if errors.As(err, &y) {
		why = y.GetMessage()
		if t := y.GetToken(); t != nil && t.Position != nil {
			line = t.Position.Line + 1
		}
	}
	return &Error{File: n.File(), Line: line, Why: "the front matter can't be read: " + why}
}

func (n *Notebook) addParam(f frontParam, line int) error {
	bad := func(why, do string) error { return &Error{File: n.File(), Line: line, Why: why, Do: do} }
	if !plainName.MatchString(f.Name) {
		return bad(fmt.Sprintf("%q is no name for a parameter", f.Name), "use small letters, digits and _")
	}
	if f.Name == "as_of" {
		return bad("as_of is always there", "leave it out of the parameters")
	}
	for _, p := range n.Params {
		if p.Name == f.Name {
			return bad(fmt.Sprintf("the parameter %q is declared twice", f.Name), "")
		}
	}
	if !slices.Contains(paramTypes, f.Type) {
		return bad(fmt.Sprintf("parameter %q: there is no type %q", f.Name, f.Type), nearest.Meant(f.Type, paramTypes))
	}
	p := Param{Name: f.Name, Label: f.Label, Type: f.Type, Choices: f.Choices, From: f.From, Until: f.Until, Line: line}
	if f.Default != nil {
		p.Default, p.Optional = *f.Default, *f.Default == "" && f.Type == "text"
	}
	if p.Label == "" {
		p.Label = strings.ReplaceAll(p.Name, "_", " ")
	}
	if f.Of != "" {
		list, ok := choiceLists[f.Of]
		if !ok {
			return bad(fmt.Sprintf("parameter %q: there is no list %q", f.Name, f.Of), nearest.Meant(f.Of, slices.Sorted(maps.Keys(choiceLists))))
		}
		p.Choices = list()
	}
	if (p.Type == "choice") != (len(p.Choices) > 0) {
		return bad(fmt.Sprintf("parameter %q: choices go with the type choice, and it needs some", f.Name), "")
	}
	if err := p.checkOwnWords(); err != nil {
		return bad(fmt.Sprintf("parameter %q: %v", f.Name, err), "")
	}
	n.Params = append(n.Params, p)
	return nil
}

// checkOwnWords checks that default and bounds are values of the type.
func (p Param) checkOwnWords() error {
	for _, w := range []string{p.From, p.Until} {
		if w == "" {
			continue
		}
		if p.Type == "text" || p.Type == "choice" {
			return fmt.Errorf("a %s has no bounds", p.Type)
		}
		if w == latest {
			return fmt.Errorf("a bound is written out, not %q", latest)
		}
		if _, err := p.parse(w, Facts{AsOf: cohort.NoDay}); err != nil {
			return err
		}
	}
	if p.Default == "" || p.Default == latest && (p.Type == "month" || p.Type == "day") {
		return nil
	}
	_, _, err := p.read(p.Default, Facts{AsOf: cohort.NoDay})
	return err
}
