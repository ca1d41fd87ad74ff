package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const root = "../.."

// floors says which of our own rooms a room may import, itself aside.
var floors = map[string][]string{
	"cmd":       {"notebooks", "reports", "ingest", "analysis"},
	"notebooks": {"reports", "analysis"},
	"reports":   {"analysis"},
	"ingest":    {"analysis"},
	"analysis":  {},
}

// below says which packages of its own room a package of ingest or notebooks may
// import, tests aside; a package not named, none.
var below = map[string][]string{
	"ingest/condition":      {"ingest/engine"},
	"ingest/bookfile":       {"ingest/seals", "ingest/engine", "ingest/durable"},
	"ingest/orderbook":      {"ingest/bookfile", "ingest/condition", "ingest/engine"},
	"ingest/yaml":           {},
	"ingest/child":          {},
	"ingest/grid":           {"ingest/lengths"},
	"ingest/durable":        {},
	"ingest/seals":          {"ingest/durable"},
	"ingest/sheets":         {"ingest/durable", "ingest/grid", "ingest/lengths", "ingest/yaml"},
	"ingest/wording":        {},
	"ingest/layout":         {"ingest/grid", "ingest/lengths", "ingest/sheets", "ingest/wording", "ingest/yaml"},
	"ingest/layout/propose": {"ingest/grid", "ingest/layout", "ingest/lengths", "ingest/sheets", "ingest/wording"},
	"ingest/demo":           {"ingest/lengths", "ingest/sheets"},
	"ingest/cells":          {"ingest/engine", "ingest/lengths", "ingest/sheets"},
	"ingest/audit":          {"ingest/bookfile", "ingest/orderbook", "ingest/engine"},
	"ingest/typed":          {"ingest/bookfile", "ingest/orderbook", "ingest/engine", "ingest/sheets", "ingest/cells"},
	"ingest/rejects":        {"ingest/lengths", "ingest/sheets"},
	"ingest/load": {"ingest/bookfile", "ingest/rejects", "ingest/engine", "ingest/durable", "ingest/grid", "ingest/lengths", "ingest/sheets", "ingest/layout",
		"ingest/cells", "ingest/audit"},
	"ingest/keyed":         {"ingest/bookfile", "ingest/durable", "ingest/sheets"},
	"ingest/keyed/loading": {"ingest/keyed", "ingest/load"},
	"ingest/sandbox":       {"ingest/bookfile", "ingest/child", "ingest/orderbook", "ingest/engine"},
	"ingest/upkeep":        {"ingest/seals", "ingest/bookfile", "ingest/engine", "ingest/durable", "ingest/grid", "ingest/layout", "ingest/keyed", "ingest/sheets"},

	"notebooks":           {"notebooks/cache", "notebooks/whole"},
	"notebooks/whole":     {},
	"notebooks/journal":   {},
	"notebooks/learners":  {"notebooks/journal"},
	"notebooks/sessions":  {"notebooks/journal"},
	"notebooks/analyses":  {"notebooks", "notebooks/cache"},
	"notebooks/execution": {"notebooks", "notebooks/cache"},
	"notebooks/archive":   {"notebooks", "notebooks/cache", "notebooks/execution", "notebooks/whole"},
	"notebooks/decisions": {"notebooks/archive", "notebooks/journal"},
	"notebooks/service": {"notebooks", "notebooks/archive", "notebooks/decisions", "notebooks/execution", "notebooks/journal", "notebooks/service/access",
		"notebooks/service/finding", "notebooks/service/formdesk", "notebooks/service/front", "notebooks/service/help", "notebooks/service/jobs", "notebooks/service/people", "notebooks/service/rulebook", "notebooks/service/topic", "notebooks/service/training", "notebooks/service/uploads"},

	"notebooks/service/front":    {"notebooks/service/access", "notebooks/service/help", "notebooks/service/topic"},
	"notebooks/service/help":     {"notebooks/service/access", "notebooks/service/topic"},
	"notebooks/service/rulebook": {"notebooks/archive", "notebooks/decisions", "notebooks/service/access", "notebooks/service/help", "notebooks/service/topic"},
	"notebooks/service/access":   {"notebooks/whole"},
	"notebooks/service/jobs":     {"notebooks/execution", "notebooks/service/topic"},
	"notebooks/service/uploads":  {"notebooks/whole"},
	"notebooks/service/finding":  {"notebooks/service/access", "notebooks/service/topic"},
	"notebooks/service/formdesk": {"notebooks/service/access", "notebooks/service/help", "notebooks/service/topic"},
	"notebooks/service/topic":    {"notebooks/service/access"},
	"notebooks/service/people":   {"notebooks/service/access", "notebooks/service/topic"},
	"notebooks/service/training": {"notebooks/journal", "notebooks/learners", "notebooks/sessions", "notebooks/service/access", "notebooks/service/topic"},
}

// confined lists imports that only one package may have; with a stroke at its end,
// those below it too.
var confined = map[string]string{
	"github.com/marcboeker/go-duckdb": "ingest/engine",
	"github.com/xuri/excelize":        "ingest/sheets",
	"gonum.org/v1/plot":               "reports/figure/",
	"github.com/yuin/goldmark":        "notebooks",
	"github.com/fxamacker/cbor":       "notebooks/cache",
	"net/http":                        "notebooks/service/",
	"github.com/spf13":                "cmd/lastroom",
	"github.com/agnivade/levenshtein": "analysis/nearest",
}

// impure is what analysis may not reach: files, clock, network, database, cgo.
var impure = []string{"os", "io/fs", "io/ioutil", "net", "net/http", "database/sql", "C", "unsafe", "path/filepath", "os/exec", "syscall"}

type source struct {
	file    string // slash path from the root
	pkg     string
	test    bool
	imports []string
}

func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(root, path)
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			if rel != "." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(rel, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		s := source{file: rel, pkg: filepath.ToSlash(filepath.Dir(rel)), test: strings.HasSuffix(rel, "_test.go")}
		for _, i := range f.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, name)
		}
		all = append(all, s)
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, len(all), 20)
	return all
}

// Imports point only downward (DEVELOPERS.md draws it), tests included.
func TestImportsPointDownward(t *testing.T) {
	for _, s := range sources(t) {
		room := strings.SplitN(s.file, "/", 2)[0]
		below, ok := floors[room]
		if !ok {
			t.Errorf("%s stands in no room of the house", s.file)
			continue
		}
		for _, i := range s.imports {
			ours, ok := strings.CutPrefix(i, "lastroom/")
			if !ok {
				continue
			}
			to := strings.SplitN(ours, "/", 2)[0]
			if to != room && !slices.Contains(below, to) {
				t.Errorf("%s imports %s: %s may import only %v", s.file, i, room, below)
			}
		}
	}
}

func TestRoomsPointDownwardInside(t *testing.T) {
	for _, s := range sources(t) {
		room, _, _ := strings.Cut(s.pkg, "/")
		if s.test || room != "ingest" && room != "notebooks" {
			continue
		}
		for _, i := range s.imports {
			to, ours := strings.CutPrefix(i, "lastroom/")
			if ours && (to == room || strings.HasPrefix(to, room+"/")) && !slices.Contains(below[s.pkg], to) {
				t.Errorf("%s imports %s: %s may import only %v of its room", s.file, i, s.pkg, below[s.pkg])
			}
		}
	}
}

func TestHeavyDependenciesStayInOnePackage(t *testing.T) {
	for _, s := range sources(t) {
		if s.test {
			continue
		}
		for _, i := range s.imports {
			for name, home := range confined {
				if (i == name || strings.HasPrefix(i, name+"/")) && s.pkg != strings.TrimSuffix(home, "/") && (!strings.HasSuffix(home, "/") || !strings.HasPrefix(s.pkg, home)) {
					t.Errorf("%s imports %s, which belongs to %s alone", s.file, i, home)
				}
			}
		}
	}
}

func TestAnalysisIsPure(t *testing.T) {
	for _, s := range sources(t) {
		if s.test || !strings.HasPrefix(s.file, "analysis/") {
			continue
		}
		for _, i := range s.imports {
			if slices.Contains(impure, i) {
				t.Errorf("%s imports %s: analysis reads no file, clock or network", s.file, i)
			}
		}
	}
}

// The clock is an argument: no computation asks for the time of day.
func TestAnalysisAsksNoClock(t *testing.T) {
	for _, s := range sources(t) {
		if s.test || !strings.HasPrefix(s.file, "analysis/") && !strings.HasPrefix(s.file, "reports/") {
			continue
		}
		b, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(s.file)))
		require.NoError(t, err)
		for _, call := range []string{"time.Now(", "time.Since(", "rand.Shuffle(", "rand.Float64(", "rand.IntN("} {
			if strings.Contains(string(b), call) {
				t.Errorf("%s calls %s…)", s.file, call)
			}
		}
	}
}

func TestTopLevelHoldsOnlyTheRooms(t *testing.T) {
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	for _, e := range entries {
		switch name := e.Name(); {
		case strings.HasPrefix(name, "."):
		case slices.Contains([]string{"analysis", "ingest", "reports", "cmd", "notebooks", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE"}, name):
		default:
			t.Errorf("%s does not belong at the top", name)
		}
	}
}
