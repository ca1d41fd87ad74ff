package rules

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// ledger counts the call-backs on mature orders and how those orders ended.
func (s *scorer) ledger(calls []Call) Ledger {
	var l Ledger
	answered, resolved := 0, 0
	var days []float64
	for _, call := range calls {
		if call.Row < 0 || call.Row >= s.c.Len() || !s.m.Is(s.c, call.Row) {
			continue
		}
		l.Calls++
		switch call.Resolved {
		case form.With:
			answered++
			resolved++
			if call.CalledOn.Known() && call.ResolvedOn.Known() && call.ResolvedOn >= call.CalledOn {
				days = append(days, float64(call.ResolvedOn-call.CalledOn))
			}
		case form.Without:
			answered++
		}
	}
	for _, i := range s.rows {
		s.fate(i, &l.NotCalled, &l.Mended, &l.CutAnyway)
		if s.called[i] {
			l.Orders++
		}
	}
	l.Success = remakes.Rate(resolved, answered)
	l.MeanDays = mean(days)
	l.Mended.close()
	l.CutAnyway.close()
	l.NotCalled.close()
	return l
}

// fate files an order under what became of its first form.
func (s *scorer) fate(i int, notCalled, mended, cutAnyway *Span) {
	switch {
	case !s.called[i]:
		s.add(notCalled, i)
	case s.c.CutNo[i] > 1:
		s.add(mended, i)
	default:
		s.add(cutAnyway, i)
	}
}

// add counts an order among a group.
func (s *scorer) add(g *Span, i int) {
	g.Orders++
	g.OrderIDs = append(g.OrderIDs, s.c.OrderID[i])
	if remakes.Event(s.c, i) {
		g.Remade++
		g.RemadeIDs = append(g.RemadeIDs, s.c.OrderID[i])
	}
}

// close works out the share, and puts the newest orders first; lists that nobody goes
// through are dropped.
func (g *Span) close() {
	g.Rate = remakes.Rate(g.Remade, g.Orders)
	for _, ids := range []*[]string{&g.OrderIDs, &g.RemadeIDs} {
		if len(*ids) > remakes.MostBehind {
			*ids = nil
		}
		slices.Reverse(*ids)
	}
}

// mean is the mean with Student's t interval.
func mean(x []float64) stats.Estimate {
	const method = "mean, Student's t interval"
	n := len(x)
	if n < remakes.LeastOrders {
		return stats.Missing(n, method, fmt.Sprintf("too few to tell: %d call-backs with both days, %d needed", n, remakes.LeastOrders))
	}
	m, m2 := 0.0, 0.0
	for k, v := range x {
		d := v - m
		m += d / float64(k+1)
		m2 += d * (v - m)
	}
	half := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile((1+level)/2) * math.Sqrt(m2/float64(n-1)/float64(n))
	return stats.Estimate{Point: m, Low: m - half, High: m + half, Level: level, N: n, Method: method}
}

// poissonLimits are Garwood's exact limits of a Poisson mean.
// Garwood F (1936) Biometrika 28:437-442; the relation to chi-squared as the NAG
// Library manual gives it (routine g07abc).
func poissonLimits(x int) (lo, hi float64) {
	if x > 0 {
		lo = distuv.ChiSquared{K: 2 * float64(x)}.Quantile((1-level)/2) / 2
	}
	return lo, distuv.ChiSquared{K: 2*float64(x) + 2}.Quantile((1+level)/2) / 2
}
