package monitoring

import (
	"fmt"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// leastCurve is the number of orders below which a quarter has no curve.
const leastCurve = remakes.LeastOrders

// ShippingCurves are the cumulative remake shares by shipping quarter. A
// remake, the as-of day and day 365 end follow-up; a returned order is followed
// on without a remake, so that this is the cumulative incidence already. Beside it
// stands the same by Aalen and Johansen, where a return ends follow-up as a
// competing end, with that of the return; they differ by chance only. (An adjustment
// is no end: many remakes follow a failed one.)
func ShippingCurves(c *cohort.Cohort, m remakes.Maturity) Curves {
	t := Curves{
		AsOf: c.AsOf, Maturity: m, Quarters: []Curve{}, Warnings: []string{},
		Method: "Kaplan-Meier, Greenwood limits on the log-log scale; Aalen-Johansen with return for refund as competing end",
	}
	quarter := func(i int) cohort.Month { return c.Shipped[i].Month().Quarter() }
	for from := 0; from < c.Len(); {
		to := from + 1
		for to < c.Len() && quarter(to) == quarter(from) {
			to++
		}
		t.Quarters = append(t.Quarters, curve(c, m, quarter(from), from, to))
		from = to
	}
	end, ends, n := follow(c, 0, c.Len())
	t.All = curveOf(end, ends)
	t.All.Orders = n
	if none := c.Len() - n; none > 0 {
		t.Warnings = append(t.Warnings, fmt.Sprintf("%d orders of which a remake was reported without its day are in no curve.", none))
	}
	t.All.Mature = len(t.Quarters) > 0 && t.Quarters[len(t.Quarters)-1].Mature
	for _, day := range []int{30, 60, 120, remakes.Horizon} {
		t.At = append(t.At, ShareAt{day, shareBy(end, day, n), incidenceAt(ends, day, n)})
	}
	return t
}

func curve(c *cohort.Cohort, m remakes.Maturity, q cohort.Month, from, to int) Curve {
	end, ends, n := follow(c, from, to)
	v := Curve{}
	if n >= leastCurve {
		v = curveOf(end, ends)
	} else {
		v.Points = []CurvePoint{}
		for i := from; i < to; i++ {
			if remakes.Dated(c, i) {
				v.Remade++
			}
		}
	}
	v.Quarter, v.Orders = q, n
	v.Mature = remakes.Age(c, to-1) >= m.Days && (q+2).Last() <= c.AsOf
	return v
}

// follow is the follow-up of the n rows in [from, to) whose remake, if any, has a
// day: the Kaplan-Meier curve and the competing incidence.
func follow(c *cohort.Cohort, from, to int) (km stats.Curve, aj stats.Incidence, n int) {
	var days, firstDays []int32
	var codes, first []uint8
	for i := from; i < to; i++ {
		if c.RemadeWithoutDay(i) {
			continue
		}
		day, code := int32(min(remakes.Age(c, i), remakes.Horizon)), uint8(0)
		if remakes.Dated(c, i) {
			day, code = int32(max(0, c.Remade[i]-c.Shipped[i])), 1
		}
		days, codes = append(days, day), append(codes, code)
		if r := c.Returned[i]; r.Known() && r <= c.AsOf && int32(r-c.Shipped[i]) < day {
			day, code = int32(max(0, r-c.Shipped[i])), 2
		}
		firstDays, first = append(firstDays, day), append(first, code)
	}
	return stats.KaplanMeier(stats.GroupSpells(days, codes), stats.DefaultLevel), stats.AalenJohansen(stats.GroupSpells(firstDays, first), 2, stats.DefaultLevel), len(days)
}

func curveOf(km stats.Curve, aj stats.Incidence) Curve {
	v := Curve{Points: []CurvePoint{}}
	for k, t := range km.Time {
		if km.Events[k] == 0 && k != len(km.Time)-1 {
			continue
		}
		e := km.ShareBy(t)
		p := CurvePoint{
			Day: int(t), AtRisk: int(math.Round(km.AtRisk[k])), Remade: int(math.Round(km.Events[k])),
			Share: stats.Value(e.Point), Low: stats.Value(e.Low), High: stats.Value(e.High),
		}
		p.Competing, p.Returned = shareAt(aj, 0, t), shareAt(aj, 1, t)
		v.Points = append(v.Points, p)
		v.Remade += p.Remade
	}
	return v
}

// shareAt is the cumulative incidence of the cause with index k just after t.
func shareAt(aj stats.Incidence, k int, t float64) stats.Value {
	i, found := slices.BinarySearch(aj.Time, t)
	if !found {
		i--
	}
	if i < 0 {
		return 0
	}
	return stats.Value(aj.Share[k][i])
}

func shareBy(km stats.Curve, day, n int) stats.Estimate {
	if n < remakes.LeastOrders {
		return stats.Missing(n, "Kaplan-Meier", remakes.MoreOrders(remakes.LeastOrders-n))
	}
	return km.ShareBy(float64(day))
}

func incidenceAt(aj stats.Incidence, day, n int) stats.Estimate {
	if n < remakes.LeastOrders {
		return stats.Missing(n, "Aalen-Johansen", remakes.MoreOrders(remakes.LeastOrders-n))
	}
	return aj.At(1, float64(day))
}
