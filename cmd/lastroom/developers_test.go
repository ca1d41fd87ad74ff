package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// declared are the functions and methods that the program declares, by package: "load"
// has "Sheets". docs are what the packages say of themselves, by folder.
func declared(t *testing.T) (functions map[string]map[string]bool, docs map[string]string) {
	functions, docs = map[string]map[string]bool{}, map[string]string{}
	for _, room := range []string{"analysis", "ingest", "reports", "notebooks", "cmd"} {
		require.NoError(t, filepath.WalkDir(filepath.Join(root, room), func(path string, d os.DirEntry, err error) error {
			if err == nil && d.Name() == "testdata" {
				return filepath.SkipDir
			}
			if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments|parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			folder, err := filepath.Rel(root, filepath.Dir(path))
			docs[filepath.ToSlash(folder)] += f.Doc.Text()
			if functions[f.Name.Name] == nil {
				functions[f.Name.Name] = map[string]bool{}
			}
			for _, d := range f.Decls {
				if fn, ok := d.(*ast.FuncDecl); ok {
					functions[f.Name.Name][fn.Name.Name] = true
				}
			}
			return err
		}))
	}
	return functions, docs
}

// The table of packages has each package of the program, and nothing else. Each also
// says of itself what it is for.
func TestEveryPackageIsInTheTable(t *testing.T) {
	_, docs := declared(t)
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	require.NoError(t, err)
	_, table, _ := strings.Cut(string(text), "| package | what it is for |")
	table, _, _ = strings.Cut(table, "\n\n")
	told := map[string]bool{}
	for line := range strings.Lines(table) {
		names, _, _ := strings.Cut(strings.TrimPrefix(line, "|"), "|")
		for _, m := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(names, -1) {
			told[strings.Replace(m[1], "…", "cmd/lastroom/workshop", 1)] = true
		}
	}
	require.NotEmpty(t, told)
	for folder, doc := range docs {
		assert.True(t, told[folder], folder)
		assert.NotEmpty(t, doc, "%s says nothing of itself", folder)
	}
	for folder := range told {
		assert.Contains(t, docs, folder)
	}
}

// An order's way names at most ten functions, each to be found where it says.
func TestTheWayOfAnOrderIsThere(t *testing.T) {
	functions, _ := declared(t)
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	require.NoError(t, err)
	_, way, _ := strings.Cut(string(text), "## One order, from sheet to scorecard")
	way, _, _ = strings.Cut(way, "\n## ")
	steps := regexp.MustCompile("(?m)^[0-9]+\\. `([^`]+)`").FindAllStringSubmatch(way, -1)
	require.NotEmpty(t, steps)
	assert.LessOrEqual(t, len(steps), 10)
	for _, m := range steps {
		in, name, dotted := strings.Cut(m[1], ".")
		switch {
		case !dotted:
			in, name = "load", m[1]
		case in == "Reader":
			in = "orderbook"
		}
		assert.True(t, functions[in][name], m[1])
	}
}
