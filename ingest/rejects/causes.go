package rejects

import (
	"regexp"
	"sort"

	"lastroom/ingest/sheets"
)

// A Cause is a reason for rows kept out, how many, and one of them.
type Cause struct {
	Reason  string        `json:"reason"`
	Rows    int           `json:"rows"`
	Example sheets.Reject `json:"example"`
}

var figures = regexp.MustCompile(`\d+`)

// Causes counts the reasons for rows kept out and gives at most so many, the most
// frequent first; figures in them don't make another reason.
func Causes(rows []sheets.Reject, most int) []Cause {
	at, out := map[string]int{}, []Cause{}
	for _, r := range rows {
		key := r.Column + " " + figures.ReplaceAllString(r.Reason, "#")
		i, ok := at[key]
		if !ok {
			i = len(out)
			at[key], out = i, append(out, Cause{Reason: r.Why(), Example: r})
		}
		out[i].Rows++
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Rows > out[j].Rows })
	return out[:min(len(out), most)]
}
