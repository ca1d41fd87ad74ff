package sheets

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// A node is a value of a YAML file with its place: a text, a list or a table.
type node struct {
	line, column int
	text         string
	isText       bool
	list         []node
	isList       bool
	table        []pair
	isTable      bool
}

// A pair is an entry of a table, in the order of the file.
type pair struct {
	key   string
	at    node
	value node
}

// A yamlFile is a small YAML file that people write: a mapping, settings.
type yamlFile struct {
	path string
	text []byte
	root node
}

// Limits of such a file.
const (
	maxYAML  = 1 << 20
	maxDepth = 20
)

func readYAML(path string) (*yamlFile, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("can't read %s: %w", path, err)
	}
	if info.Size() > maxYAML || !info.Mode().IsRegular() {
		return nil, fileError(path, 0, "is larger than 1 MiB or no ordinary file, so it is none of ours")
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("can't read %s: %w", path, err)
	}
	f := &yamlFile{path: path, text: text}
	return f, f.parse()
}

// parse builds the tree. The YAML library panics on some damaged texts; that
// is told like any other damage.
func (f *yamlFile) parse() (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fileError(f.path, 0, "can't be read as YAML")
		}
	}()
	file, err := parser.ParseBytes(f.text, 0)
	if err != nil {
		return fileError(f.path, 0, "can't be read as YAML: %s", err)
	}
	if len(file.Docs) != 1 || file.Docs[0].Body == nil {
		return fileError(f.path, 0, "must hold one YAML table")
	}
	f.root, err = f.node(file.Docs[0].Body, 0)
	if err == nil && !f.root.isTable {
		err = f.wrong(f.root, "must be a table of names and values")
	}
	return err
}

func (f *yamlFile) node(a ast.Node, depth int) (n node, err error) {
	if p := a.GetToken(); p != nil && p.Position != nil {
		n.line, n.column = p.Position.Line, p.Position.Column
	}
	if depth > maxDepth {
		return n, f.wrong(n, "is nested too deep")
	}
	switch v := a.(type) {
	case *ast.MappingNode:
		n.isTable = true
		for _, entry := range v.Values {
			if err := f.pair(&n, entry, depth); err != nil {
				return n, err
			}
		}
	case *ast.MappingValueNode:
		n.isTable = true
		err = f.pair(&n, v, depth)
	case *ast.SequenceNode:
		n.isList = true
		for _, item := range v.Values {
			child, err := f.node(item, depth+1)
			if err != nil {
				return n, err
			}
			n.list = append(n.list, child)
		}
	case *ast.StringNode:
		n.isText, n.text = true, v.Value
	case *ast.NullNode:
		n.isText = true
	case *ast.BoolNode, *ast.IntegerNode, *ast.FloatNode, *ast.LiteralNode, *ast.InfinityNode, *ast.NanNode:
		n.isText, n.text = true, a.GetToken().Value
	default:
		err = f.wrong(n, "is a kind of YAML that is not used here")
	}
	return n, err
}

func (f *yamlFile) pair(n *node, v *ast.MappingValueNode, depth int) error {
	key, err := f.node(v.Key, depth+1)
	if err != nil {
		return err
	}
	if !key.isText {
		return f.wrong(key, "a name must be a plain text")
	}
	if n.line == 0 || key.line < n.line {
		n.line, n.column = key.line, key.column
	}
	for _, p := range n.table {
		if p.key == key.text {
			return f.wrong(key, "%q stands here twice", key.text)
		}
	}
	value, err := f.node(v.Value, depth+1)
	n.table = append(n.table, pair{key.text, key, value})
	return err
}

// wrong is an error about a place of the file.
func (f *yamlFile) wrong(at node, format string, args ...any) error {
	return &FileError{filepath.Base(f.path), int64(at.line), fmt.Sprintf("column %d: %s", at.column, fmt.Sprintf(format, args...))}
}
