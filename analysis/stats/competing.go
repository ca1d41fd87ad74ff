package stats

import (
	"fmt"
	"math"
)

// An Incidence is the Aalen-Johansen estimate for competing causes: one entry
// a distinct time.
type Incidence struct {
	Time, AtRisk []float64
	// EventFree is the share without any event just after Time.
	EventFree []float64
	// Share[k] is the cumulative incidence of cause k+1, SE[k] its standard
	// error. EventFree and the shares add up to 1 at each time.
	Share, SE [][]float64
	Level     float64
	Total     float64
}

// AalenJohansen is the cumulative incidence of each of the causes 1 … causes,
// each the sum of S(t-) d/n over its events, where S is the share without any
// event. One minus a Kaplan-Meier curve that takes the other causes for
// censoring is larger, and wrong.
//
// The standard error is the delta method's, with the variance of S and of the
// cause's hazard and their covariance (Marubini and Valsecchi 1995, sec. 10.3),
// which equals the infinitesimal jackknife of R's survfit. Codes above causes
// are passed over with their time: give all causes.
//
// Aalen OO, Johansen S (1978) Scand J Stat 5:141-150.
func AalenJohansen(spells []Spell, causes int, level float64) Incidence {
	causes = max(causes, 1)
	rows, total := lifeTable(spells, causes)
	c := Incidence{Level: level, Total: total, Share: make([][]float64, causes), SE: make([][]float64, causes)}
	s, sums := 1.0, make([]incidenceSums, causes)
	for _, r := range rows {
		before := s
		s *= math.Max(0, r.atRisk-r.events) / r.atRisk
		for k := range sums {
			share, se := sums[k].add(before, r.atRisk, r.events, r.cause[k])
			c.Share[k], c.SE[k] = append(c.Share[k], share), append(c.SE[k], se)
		}
		c.Time, c.AtRisk = append(c.Time, r.time), append(c.AtRisk, r.atRisk)
		c.EventFree = append(c.EventFree, s)
	}
	return c
}

// incidenceSums carries the sums of the variance
//
//	sum (F(t)-F(j))^2 g(j) + sum S(j-)^2 (n-d)d/n^3 - 2 sum (F(t)-F(j)) S(j-) d/n^2
//
// with g = D/(n(n-D)) for all events D and d those of the cause.
type incidenceSums struct{ f, g, fg, ffg, own, h, fh float64 }

func (v *incidenceSums) add(before, n, all, d float64) (share, se float64) {
	v.f += before * d / n
	if all < n { // else nobody is left, and F moves no more
		g := all / (n * (n - all))
		v.g, v.fg, v.ffg = v.g+g, v.fg+v.f*g, v.ffg+v.f*v.f*g
	}
	h := before * d / (n * n)
	v.h, v.fh = v.h+h, v.fh+v.f*h
	v.own += before * before * (n - d) * d / (n * n * n)
	variance := v.f*v.f*v.g - 2*v.f*v.fg + v.ffg + v.own - 2*(v.f*v.h-v.fh)
	return v.f, math.Sqrt(math.Max(0, variance))
}

// At is the cumulative incidence of a cause (from 1) at time t, with the
// interval from the normal limits of log(-log F). Without an event of the
// cause by then the point 0 stands without an interval. Later than the longest
// follow-up it is Missing.
func (c Incidence) At(cause int, t float64) Estimate {
	const method = "Aalen-Johansen, log-log interval"
	e := Missing(int(math.Round(c.Total)), method)
	e.Level = c.Level
	if cause < 1 || cause > len(c.Share) {
		return e.Warn(fmt.Sprintf("there is no cause %d", cause))
	}
	i, why := stepAt(c.Time, t, c.Level)
	if why != "" {
		return e.Warn(why)
	}
	e.Point = 0
	if i < 0 || c.Share[cause-1][i] == 0 {
		return e.Warn("no event by then: no log-log interval")
	}
	e.Point = c.Share[cause-1][i]
	if e.Point >= 1 {
		return e.Warn("all have had the event: no log-log interval")
	}
	e.Low, e.High = logLog(e.Point, c.SE[cause-1][i], c.Level)
	return e
}
