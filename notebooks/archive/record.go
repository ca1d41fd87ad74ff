package archive

import (
	"encoding/json"
	"maps"
	"slices"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/notebooks"
	"lastroom/notebooks/cache"
	"lastroom/notebooks/execution"
	"lastroom/reports/page"
)

// A Record is what is kept of a run for finding and comparing it.
type Record struct {
	ID         string          `json:"id"`
	Notebook   string          `json:"notebook"`
	Title      string          `json:"title"`
	Digest     string          `json:"notebook_sha256"`
	Facts      notebooks.Facts `json:"book"`
	Version    string          `json:"version"`
	Parameters [][2]string     `json:"parameters"`
	Finished   time.Time       `json:"finished"`
	By         string          `json:"by,omitempty"`
	// Repeated says when the same run was made again and gave the same page.
	Repeated []time.Time `json:"repeated,omitempty"`
	Failures []string    `json:"failures,omitempty"`
	// Cached says which cells came out of the cache, and when each was computed.
	Cached []cachedCell      `json:"cached,omitempty"`
	Claims []notebooks.Claim `json:"claims,omitempty"`
	Values []RecordValue     `json:"values"`
	Tables []string          `json:"tables"`
}

// A cachedCell is a cell whose result was computed before.
type cachedCell struct {
	Cell string    `json:"cell"`
	Made time.Time `json:"made"`
}

// Failed reports whether a cell of the run failed.
func (r Record) Failed() bool { return len(r.Failures) > 0 }

// A RecordValue is a named value of a run.
type RecordValue struct {
	Name  string          `json:"name"`
	Text  string          `json:"text"`
	Exact bool            `json:"exact,omitempty"`
	E     json.RawMessage `json:"estimate,omitempty"`
}

// record makes the Record of a run.
func record(r *execution.Run, version string) Record {
	rec := Record{
		Notebook: r.Notebook.Name, Title: r.Doc.Title, Digest: r.Notebook.Digest(),
		Facts: r.Facts, Version: version, Claims: r.Claims, Values: []RecordValue{}, Tables: []string{}, Parameters: [][2]string{},
	}
	for i, name := range r.Binding.Names {
		rec.Parameters = append(rec.Parameters, [2]string{name, r.Binding.Words[i]})
	}
	for _, f := range r.Failures() {
		rec.Failures = append(rec.Failures, f.Error())
	}
	for _, c := range r.Cells {
		if !c.Cached.IsZero() {
			rec.Cached = append(rec.Cached, cachedCell{c.Cell.Name, c.Cached.UTC().Truncate(time.Second)})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(r.Values)) {
		rec.Values = append(rec.Values, ValueOf(name, r.Values[name]))
	}
	for _, t := range r.Tables {
		rec.Tables = append(rec.Tables, t.ID)
	}
	rec.ID = rec.Notebook + "-" + rec.key()
	return rec
}

// ValueOf is a value as it is kept, under a name.
func ValueOf(name string, v page.Value) RecordValue {
	rv := RecordValue{Name: name, Text: notebooks.InWords(v, ""), Exact: notebooks.Counted(v)}
	if !rv.Exact {
		rv.E, _ = json.Marshal(v.E) // an Estimate always can
	}
	return rv
}

// key is what the run was made from, in twelve hexadecimal digits: the same
// notebook, book, day, parameters and version give the same key.
func (r Record) key() string {
	parts := []string{"run", r.Digest, r.Facts.Hash, r.Facts.Setup, r.Facts.AsOf.String(), r.Version}
	for _, p := range r.Parameters {
		parts = append(parts, p[0], p[1])
	}
	return cache.Key(parts...)[:12]
}

// Month is the value of the parameter month, where there is one.
func (r Record) Month() (cohort.Month, bool) {
	for _, p := range r.Parameters {
		if p[0] == "month" {
			m, err := cohort.ParseMonth(p[1])
			return m, err == nil
		}
	}
	return 0, false
}
