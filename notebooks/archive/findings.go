package archive

import (
	"encoding/json"
	"fmt"
	"strings"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
)

// adjusted ends the name of the value that says how many more remakes go with a
// fault among like orders.
const adjusted = ".adjusted_risk_difference"

// Estimate is the value as an estimate; false where it is none, or was not given
// with an interval.
func (v RecordValue) Estimate() (stats.Estimate, bool) {
	var e stats.Estimate
	if len(v.E) == 0 || json.Unmarshal(v.E, &e) != nil {
		return e, false
	}
	return e, e.Given() && e.Bounded()
}

// A shift is a fault that is a finding in one of two records and not in the other.
type shift struct {
	fault         string // its title
	before, after RecordValue
	gone          bool // else it is new
}

// shifts are the faults whose interval of more remakes among like orders lies
// above nought in one record only. A fault that is not in both is left out. told
// says whether the number was given of any.
func shifts(before, after Record) (out []shift, told bool) {
	was := map[string]RecordValue{}
	for _, v := range before.Values {
		was[v.Name] = v
	}
	for _, v := range after.Values {
		name, isFault := strings.CutSuffix(v.Name, adjusted)
		old, known := was[v.Name]
		if !isFault || !known {
			continue
		}
		a, givenA := old.Estimate()
		b, givenB := v.Estimate()
		told = told || givenA || givenB
		stood, stands := givenA && a.Low > 0, givenB && b.Low > 0
		if stood != stands {
			out = append(out, shift{faultTitle(name[strings.LastIndexByte(name, '.')+1:]), old, v, stood})
		}
	}
	return out, told
}

func faultTitle(id string) string {
	if i, ok := form.FaultIndex(id); ok {
		return form.Faults[i].Title
	}
	return strings.ReplaceAll(id, "-", " ")
}

// why says what about the number made the difference: it could not be given, its
// interval is another width, or it moved itself.
func (s shift) why() string {
	a, givenA := s.before.Estimate()
	b, givenB := s.after.Estimate()
	switch {
	case !givenB:
		return "it is " + s.after.Text
	case !givenA:
		return "before it was " + s.before.Text
	case s.gone && b.Point-(a.Point-a.Low) > 0:
		return "its interval is wider now; the number itself is much as it was"
	case s.gone:
		return "fewer remakes go with it in what is known now"
	case b.Point-(a.Point-a.Low) <= 0:
		return "its interval is narrower now; the number itself is much as it was"
	}
	return "more remakes go with it in what is known now"
}

// findingsChanged tells each fault that came or went as a finding, and why.
func findingsChanged(list []shift) page.Prose {
	var out page.Prose
	for _, s := range list {
		what := "is a finding now"
		if s.gone {
			what = "is no finding any more"
		}
		out = append(out, fmt.Sprintf("%s %s, because %s. More remakes in 100 orders with it, among like orders: before %s; after %s.", form.Capitalised(s.fault), what, s.why(), s.before.Text, s.after.Text))
	}
	if len(list) == 0 {
		out = page.Prose{"The same faults stand out as before."}
	}
	return append(out, "A finding here is a fault whose interval of more remakes lies above nought. What made the numbers move is under “What went in”; several of these may share in it.")
}

// headline is what changed in a sentence: the orders first, then the findings.
func headline(before, after Record, newOrders int, list []shift) string {
	var parts []string
	a, monthA := before.Month()
	b, monthB := after.Month()
	switch d := int(b - a); {
	case monthA && monthB && d == 1:
		parts = append(parts, "one more month of orders")
	case monthA && monthB && d > 1:
		parts = append(parts, fmt.Sprintf("%d more months of orders", d))
	case monthA && monthB && d < 0:
		parts = append(parts, "an earlier month of orders")
	case newOrders > 0:
		parts = append(parts, page.Counted(newOrders, "new order", "new orders"))
	default:
		parts = append(parts, "no new orders")
	}
	for _, gone := range []bool{true, false} {
		var names []string
		because := ""
		for _, s := range list {
			if s.gone == gone {
				names, because = append(names, s.fault), s.why()
			}
		}
		word := map[bool]string{true: "gone", false: "new"}[gone]
		switch {
		case len(names) == 1:
			parts = append(parts, fmt.Sprintf("one finding %s (%s), because %s", word, names[0], because))
		case len(names) > 1:
			parts = append(parts, fmt.Sprintf("%d findings %s (%s)", len(names), word, strings.Join(names, ", ")))
		}
	}
	return form.Capitalised(strings.Join(parts, "; ")) + "."
}
