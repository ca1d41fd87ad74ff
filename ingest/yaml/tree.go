// Package yaml reads the small YAML files that people write, a mapping or
// settings, as a tree that knows the line and column of everything in it.
//
// A file is looked at before the YAML library sees it: how large it is and how
// deep it is nested. The library takes memory and time without measure for
// deeply nested texts.
package yaml

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"lastroom/analysis/shallow"
)

// A Node is a value of a file with its place: a text, a list or a table.
type Node struct {
	Line, Column int
	Text         string
	IsText       bool
	List         []Node
	IsList       bool
	Table        []Pair
	IsTable      bool
}

// A Pair is an entry of a table, in the order of the file.
type Pair struct {
	Key   string
	At    Node
	Value Node
}

// A File is a YAML file of one table.
type File struct {
	Name string // without folders
	Text []byte
	Root Node
}

// An Error names the place in a file.
type Error struct {
	File         string
	Line, Column int
	Reason       string
}

func (e *Error) Error() string {
	if e.Line == 0 {
		return e.File + ": " + e.Reason
	}
	return fmt.Sprintf("%s line %d, column %d: %s", e.File, e.Line, e.Column, e.Reason)
}

// maxDepth is how deep a file of ours is nested.
const maxDepth = 20

// Read reads a file.
func Read(path string) (*File, error) {
	name := filepath.Base(path)
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("can't read %s: %w", path, err)
	}
	if info.Size() > shallow.MaxBytes || !info.Mode().IsRegular() {
		return nil, &Error{File: name, Reason: fmt.Sprintf("is larger than %d KiB or no ordinary file, so it is none of ours", shallow.MaxBytes>>10)}
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("can't read %s: %w", path, err)
	}
	return Parse(name, text)
}

// Parse reads the text of a file. The YAML library panics on some damaged
// texts; that is told like any other damage.
func Parse(name string, text []byte) (f *File, err error) {
	f = &File{Name: name, Text: text}
	if err := shallow.Check(text); err != nil {
		return nil, &Error{File: name, Reason: err.Error()}
	}
	defer func() {
		if r := recover(); r != nil {
			f, err = nil, &Error{File: name, Reason: "can't be read as YAML"}
		}
	}()
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, &Error{File: name, Reason: fmt.Sprintf("can't be read as YAML: %s", err)}
	}
	if len(file.Docs) != 1 || file.Docs[0].Body == nil {
		return nil, &Error{File: name, Reason: "must hold one YAML table"}
	}
	f.Root, err = f.node(file.Docs[0].Body, 0)
	if err == nil && !f.Root.IsTable {
		err = f.Wrong(f.Root, "must be a table of names and values")
	}
	return f, err
}

func (f *File) node(a ast.Node, depth int) (n Node, err error) {
	if p := a.GetToken(); p != nil && p.Position != nil {
		n.Line, n.Column = p.Position.Line, p.Position.Column
	}
	if depth > maxDepth {
		return n, f.Wrong(n, "is nested too deep")
	}
	switch v := a.(type) {
	case *ast.MappingNode:
		n.IsTable = true
		for _, entry := range v.Values {
			if err := f.pair(&n, entry, depth); err != nil {
				return n, err
			}
		}
	case *ast.MappingValueNode:
		n.IsTable = true
		err = f.pair(&n, v, depth)
	case *ast.SequenceNode:
		n.IsList = true
		for _, item := range v.Values {
			child, err := f.node(item, depth+1)
			if err != nil {
				return n, err
			}
			n.List = append(n.List, child)
		}
	case *ast.StringNode:
		n.IsText, n.Text = true, v.Value
	case *ast.NullNode:
		n.IsText = true
	case *ast.BoolNode, *ast.IntegerNode, *ast.FloatNode, *ast.LiteralNode, *ast.InfinityNode, *ast.NanNode:
		n.IsText, n.Text = true, a.GetToken().Value
	default:
		err = f.Wrong(n, "is a kind of YAML that is not used here")
	}
	return n, err
}

func (f *File) pair(n *Node, v *ast.MappingValueNode, depth int) error {
	key, err := f.node(v.Key, depth+1)
	if err != nil {
		return err
	}
	if !key.IsText {
		return f.Wrong(key, "a name must be a plain text")
	}
	if n.Line == 0 || key.Line < n.Line {
		n.Line, n.Column = key.Line, key.Column
	}
	for _, p := range n.Table {
		if p.Key == key.Text {
			return f.Wrong(key, "%q stands here twice", key.Text)
		}
	}
	value, err := f.node(v.Value, depth+1)
	n.Table = append(n.Table, Pair{key.Text, key, value})
	return err
}

// Wrong is an error about a place of the file.
func (f *File) Wrong(at Node, format string, args ...any) error {
	return &Error{f.Name, at.Line, at.Column, fmt.Sprintf(format, args...)}
}

// One is a plain text that is not empty.
func (f *File) One(n Node) (string, error) {
	if !n.IsText || strings.TrimSpace(n.Text) == "" {
		return "", f.Wrong(n, "needs a plain text")
	}
	return n.Text, nil
}

// Texts are one plain text or a list of them.
func (f *File) Texts(n Node) (out []string, err error) {
	if !n.IsList {
		one, err := f.One(n)
		return []string{one}, err
	}
	for _, item := range n.List {
		one, err := f.One(item)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}
