package remakes

import (
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// zoneCheck holds the remakes with complaints in the fault's own zones against
// those in the other zones. A fault can only do harm where its number is used;
// one that goes with complaints everywhere stands for something else.
func zoneCheck(c *cohort.Cohort, rows []int, fault form.Fault, cut []form.State) ZoneCheck {
	z := ZoneCheck{Zones: fault.Zones, PValue: stats.Value(math.NaN()), QValue: stats.Value(math.NaN())}
	if z.Zones == nil {
		z.Zones = []form.Zone{}
	}
	own := zoneCodes(c.Zone, fault.Zones)
	var in, out stats.TwoByTwo
	for _, i := range rows {
		if cut[i] != form.With && cut[i] != form.Without {
			continue
		}
		event, code := Event(c, i), c.Zone.Code[i]
		named := event && code != 0
		in.Add(cut[i] == form.With, named && own[code])
		out.Add(cut[i] == form.With, named && !own[code])
	}
	z.Own, z.Others = compared(in), compared(out)
	const method = "odds ratio among remade orders (Woolf)"
	if len(fault.Zones) == 0 {
		z.Ratio = stats.Missing(in.N(), method, "this fault may show in any zone, so no zone can serve as control")
		z.Verdict, z.Words = "none", "This fault may show in any zone; there is no zone to check it against."
		return z
	}
	cases := stats.TwoByTwo{A: in.A, B: out.A, C: in.C, D: out.C}
	z.Ratio = zoneRatio(cases, method)
	if z.Ratio.Given() {
		z.PValue = stats.Value(stats.FisherExact(cases).MidP)
	}
	z.Verdict, z.Words = zoneVerdict(z)
	return z
}

func zoneRatio(t stats.TwoByTwo, method string) stats.Estimate {
	if t.N1() < LeastEvents || t.N0() < LeastEvents {
		return stats.Missing(t.N(), method, "too few to tell: fewer than 5 remakes with a zone on one side")
	}
	if t.A == 0 || t.B == 0 || t.C == 0 || t.D == 0 {
		return stats.Missing(t.N(), method, "one side has no remake in the own, or in the other, zones")
	}
	e := stats.WoolfOddsRatio(t, level)
	e.Method = method
	return e
}

// zoneVerdict reads the check by rule.
func zoneVerdict(z ZoneCheck) (verdict, words string) {
	own, others := z.Own.RiskRatio, z.Others.RiskRatio
	switch {
	case !own.Given() || !others.Given():
		return "unclear", "Too few remakes with a named zone to check where the complaints sit."
	case others.Low > 1 && !(z.Ratio.Low > 1):
		return CarelessForm, "Complaints are as much more common in zones this fault can't touch: it likely stands for a careless form, not for the cause."
	case own.Low > 1 && z.Ratio.Low > 1:
		return "fits", "Complaints sit in the zones this fault can touch, and not so in the others."
	case own.Low > 1:
		return "fits", "Complaints are more common in the zones this fault can touch; the other zones show no clear rise."
	}
	return "unclear", "The zones of the complaints neither speak for nor against this fault."
}

// zoneCodes marks the factor codes that are among the zones.
func zoneCodes(f cohort.Factor, zones []form.Zone) []bool {
	own := make([]bool, len(f.Levels))
	for k, l := range f.Levels {
		own[k] = slices.Contains(zones, form.Zone(l))
	}
	return own
}

// A ComplaintTable counts the zones and directions of complaints behind the
// remakes of mature orders.
type ComplaintTable struct {
	AsOf   cohort.Day  `json:"as_of"`
	Remade int         `json:"remade"`
	Zones  []Complaint `json:"zones"`
	// NotNamed counts remakes without a zone.
	NotNamed int `json:"not_named"`
}

// A Complaint is one zone and direction on one side.
type Complaint struct {
	Zone      form.Zone      `json:"zone"`
	Direction string         `json:"direction"` // "" where none is named
	Side      string         `json:"side"`      // left, right, both; "" where none is named
	Remade    int            `json:"remade"`
	Share     stats.Estimate `json:"share"` // of remakes with a zone
	Orders    []string       `json:"-" cbor:"orders"`
}

// Complaints counts zones, directions and sides, zones toe to top, then any
// others as written, directions in the order tight, loose, short, long, none,
// sides left, right, both, none.
func Complaints(c *cohort.Cohort, m Maturity) ComplaintTable {
	t := ComplaintTable{AsOf: c.AsOf, Zones: []Complaint{}}
	type key struct{ zone, direction, side string }
	found := map[key][]string{}
	for i := c.Len() - 1; i >= 0; i-- {
		if !m.Is(c, i) || !Event(c, i) {
			continue
		}
		t.Remade++
		if z := c.Zone.At(i); z == "" {
			t.NotNamed++
		} else {
			k := key{z, c.Direction.At(i), c.Side.At(i)}
			found[k] = append(found[k], c.OrderID[i])
		}
	}
	for _, z := range zonesIn(c.Zone) {
		for _, d := range append(withOthers([]string{"tight", "loose", "short", "long"}, c.Direction), "") {
			for _, side := range append(withOthers([]string{form.Left.String(), form.Right.String(), "both"}, c.Side), "") {
				if ids := found[key{z, d, side}]; len(ids) > 0 {
					t.Zones = append(t.Zones, Complaint{form.Zone(z), d, side, len(ids), Rate(len(ids), t.Remade-t.NotNamed), ids})
				}
			}
		}
	}
	return t
}

func zonesIn(f cohort.Factor) []string {
	var zs []string
	for _, z := range form.Zones {
		zs = append(zs, string(z))
	}
	return withOthers(zs, f)
}

// withOthers is the list and the factor's further levels, sorted.
func withOthers(list []string, f cohort.Factor) []string {
	more := slices.Clone(f.Levels)
	slices.Sort(more)
	for _, l := range more {
		if l != "" && !slices.Contains(list, l) {
			list = append(list, l)
		}
	}
	return list
}

func compared(t stats.TwoByTwo) CrudeComparison {
	return CrudeComparison{t.A, t.C, Ratio(t), Difference(t)}
}
