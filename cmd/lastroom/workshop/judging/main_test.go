package judging

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lastroom/analysis/body"
	"lastroom/analysis/cohort"
	"lastroom/analysis/rules"
	"lastroom/analysis/rules/rulesfile"
	"lastroom/analysis/testdata/breadth"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/ruling"
	"lastroom/ingest/demo"
	"lastroom/ingest/load"
	"lastroom/ingest/sandbox"
)

func TestMain(m *testing.M) {
	sandbox.Main() // the review of the invented workshop asks in SQL
	status := m.Run()
	if shopDesk != nil {
		shopDesk.Close()
	}
	if made != "" {
		os.RemoveAll(made)
	}
	os.Exit(status)
}

var made string // the folder of invented, once it is there

// orders of the invented workshop and its seed. Few are enough every day where the risk
// model is worth asking, as it is not in most shops of that size.
var orders, seed = breadth.Few(900, 1500), breadth.Few(5, 1)

// invented is an invented workshop's book with its rules, that all tests read, made
// once; its review, which takes by far the longest, nobody here looks at.
var invented = sync.OnceValues(func() (dir string, err error) {
	if dir, err = os.MkdirTemp("", "lastroom-desk-"); err != nil {
		return "", err
	}
	made = dir
	sheets, book := filepath.Join(dir, "sheets"), filepath.Join(dir, "shop.duckdb")
	truth, err := demo.Write(sheets, demo.Options{Seed: uint64(seed), Orders: orders})
	if err != nil {
		return dir, err
	}
	w, err := workshop.Open(workshop.Setup{Book: book})
	if err != nil {
		return dir, err
	}
	if _, err = w.LoadSheets(context.Background(), load.Options{Paths: []string{sheets}}, workshop.Silent); err != nil {
		return dir, err
	}
	text := rules.DefaultYAML()
	for _, id := range truth.RuleFaults {
		if text, err = rulesfile.SetDays(text, id, rulesfile.Days{From: truth.RuleFrom, Until: cohort.NoDay}); err != nil {
			return dir, err
		}
	}
	return dir, os.WriteFile(ruling.Beside(book), text, 0o600)
})

// demoBook is the invented workshop's book.
func demoBook(t testing.TB) string {
	t.Helper()
	dir, err := invented()
	require.NoError(t, err)
	return filepath.Join(dir, "shop.duckdb")
}

var shopDesk *Desk // of judgedShop, once it is there

// judgedShop is all forms of the invented workshop as shopDesk judges them, once for
// all tests.
var judgedShop = sync.OnceValues(func() (list []Judged, err error) {
	dir, err := invented()
	if err != nil {
		return nil, err
	}
	ctx := context.Background()
	shopDesk, err = Open(ctx, Setup{Book: filepath.Join(dir, "shop.duckdb"), AsOf: cohort.NoDay, FalseAlarms: body.DefaultFalseAlarms}, workshop.Silent)
	if err != nil {
		return nil, err
	}
	return shopDesk.Judge(ctx, shopDesk.book, "")
})
