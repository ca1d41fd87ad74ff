package bookpages

import (
	"bytes"
	"encoding/csv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"lastroom/ingest/load"
	"lastroom/ingest/sheets"
	"lastroom/reports/page"
)

func TestLoadPage(t *testing.T) {
	r := &load.Report{Sheets: []load.SheetCount{{Sheet: "forms", File: "forms.csv", Read: 1200, Taken: 1198, KeptOut: 2, Unknown: []string{"mood"}}}, Ignored: []string{"notes.txt"}}
	for i := range 80 {
		r.KeptOut = append(r.KeptOut, sheets.Reject{File: "forms.csv", Line: int64(i + 2), Column: "received_on", Text: "=cmd|'/c'", Reason: "is not a day"})
	}
	d := Load(r, "rejected.csv")
	assert.Equal(t, "1,198 rows taken, 2 kept out.", d.Lead)
	var b bytes.Buffer
	require.NoError(t, page.WriteText(&b, d, page.TextOptions{}))
	for _, s := range []string{"showing 50 of 80", "rejected.csv", "notes.txt", "mood"} {
		assert.Contains(t, b.String(), s)
	}
	tables := page.Tables(d)
	require.Len(t, tables, 2)
	b.Reset()
	require.NoError(t, page.CSV(&b, &tables[1]))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"forms.csv", "2", "received_on", "'=cmd|'/c'", "is not a day"}, rows[1])

	b.Reset()
	require.NoError(t, page.WriteText(&b, Load(&load.Report{}, ""), page.TextOptions{}))
	assert.Contains(t, b.String(), "0 rows taken")
}
