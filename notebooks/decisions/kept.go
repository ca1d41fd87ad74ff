package decisions

import (
	"slices"
	"strings"

	"lastroom/analysis/rules"
	"lastroom/notebooks/archive"
)

// Kept is a number that a decision rests on, then and now.
type Kept struct{ Name, Then, Now, Says string }

// Keep lays the evidence beside the same numbers in the newest whole run of the
// notebook it came from; where it came from none, in the newest run that holds any.
// recs are all runs, the newest first.
func (v *View) Keep(recs []archive.Record) {
	from := ""
	if v.Run != "" {
		i := slices.IndexFunc(recs, func(r archive.Record) bool { return r.ID == v.Run })
		if i < 0 {
			return
		}
		from = recs[i].Notebook
	}
	for _, r := range recs {
		if from != "" && r.Notebook != from || r.Failed() {
			continue
		}
		now, found := map[string]archive.RecordValue{}, false
		for _, x := range r.Values {
			now[x.Name] = x
			if name := ofRule(x.Name); from == "" && name != "" {
				now[name] = x
			}
		}
		var kept []Kept
		for _, was := range v.Evidence {
			is, ok := now[was.Name]
			if found = found || ok; !ok {
				is.Text = "not in the newest run"
			}
			kept = append(kept, Kept{was.Name, was.Text, is.Text, moved(was, is)})
			if strings.HasSuffix(was.Name, ".kept_promise") {
				v.Promise = promise(is)
			}
		}
		if from == "" && !found {
			continue
		}
		v.Newer, v.Kept = r.ID, kept
		return
	}
}

// ofRule is the name of a rule's number without the cell that it came from: the review's
// is review.rule.…, that of a rule tried on its page rule.…; "" for other numbers.
func ofRule(name string) string {
	if i := strings.Index(name, ".rule."); i >= 0 {
		return name[i+1:]
	}
	return ""
}

// promise is how much of its promise a rule has kept, in words.
func promise(x archive.RecordValue) string {
	if e, ok := x.Estimate(); ok && !(rules.Scored{KeptPromise: e}).PromiseTold() {
		return "too wide an interval to tell yet: " + x.Text
	}
	return x.Text
}

// moved says whether a number is another one now, by its intervals.
func moved(was, is archive.RecordValue) string {
	a, okA := was.Estimate()
	b, okB := is.Estimate()
	if !okA || !okB {
		if was.Text == is.Text {
			return "the same"
		}
		return "differs"
	}
	switch {
	case was.Text == is.Text:
		return "the same"
	case b.High < a.Low:
		return "lower now, beyond both intervals"
	case b.Low > a.High:
		return "higher now, beyond both intervals"
	}
	return "not told apart: the intervals overlap"
}
