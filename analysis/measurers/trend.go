package measurers

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// A span collects the forms of one time.
type span struct {
	faults        []float64 // a form
	orders, again int       // mature, remade
	of, mature    []string  // ids of the orders of faults, and of the mature ones
}

// faultsOfForms are the noted and counted faults of each row's form; NaN where none
// is known either way.
func faultsOfForms(c *cohort.Cohort) []float64 {
	out := make([]float64, c.Len())
	for i := range out {
		known := false
		for f, fault := range form.Faults {
			switch state := c.Cut[f][i]; {
			case fault.Kind == form.Evident:
			case state == form.With:
				out[i]++
				known = true
			case state == form.Without:
				known = true
			}
		}
		if !known {
			out[i] = math.NaN()
		}
	}
	return out
}

func (s *span) add(c *cohort.Cohort, m remakes.Maturity, faults []float64, i int) {
	if !math.IsNaN(faults[i]) {
		s.faults = append(s.faults, faults[i])
		s.of = append(s.of, c.OrderID[i])
	}
	if m.Is(c, i) {
		s.orders++
		s.mature = append(s.mature, c.OrderID[i])
		if remakes.Event(c, i) {
			s.again++
		}
	}
}

// trendOf holds a measurer's forms from before and after the training against each
// other, beside what changed for all others over the same days. Orders count by
// the day on which the first form came.
func trendOf(c *cohort.Cohort, m remakes.Maturity, faults []float64, id string, trained map[string]cohort.Day) Trend {
	const method = "difference of means, Welch's t interval"
	on, ok := trained[id]
	if !ok || on == cohort.NoDay {
		e := stats.Missing(0, method, "the sheets don't say when training was")
		return Trend{TrainedOn: cohort.NoDay, Before: Period{Faults: e, Remade: e}, After: Period{Faults: e, Remade: e}, Change: e, Others: e,
			Words: "When training was is not written in the measurers sheet."}
	}
	var own, others [2]span
	for i := range c.Shipped {
		if c.Measurer.Code[i] == 0 || c.Received[i] == cohort.NoDay {
			continue
		}
		k := 0
		if c.Received[i] >= on {
			k = 1
		}
		if c.Measurer.At(i) == id {
			own[k].add(c, m, faults, i)
		} else {
			others[k].add(c, m, faults, i)
		}
	}
	t := Trend{TrainedOn: on, Before: own[0].period(), After: own[1].period(), Change: change(own), Others: change(others)}
	switch {
	case !t.Change.Given():
		t.Words = fmt.Sprintf("Trained on %v; too few forms on one side of that day to compare (%d before, %d after, %d needed).", on, len(own[0].faults), len(own[1].faults), LeastOrders)
	case t.Change.Low > 0:
		t.Words = fmt.Sprintf("Since the training on %v there are %.1f faults a form more than before.", on, t.Change.Point)
	case t.Change.High < 0:
		t.Words = fmt.Sprintf("Since the training on %v there are %.1f faults a form fewer than before.", on, -t.Change.Point)
	default:
		t.Words = fmt.Sprintf("No change since the training on %v that can't be chance: from %.1f fewer to %.1f more faults a form.", on, math.Max(0, -t.Change.Low), math.Max(0, t.Change.High))
	}
	if t.Change.Given() && t.Others.Given() {
		t.Words += fmt.Sprintf(" All others' forms changed by %+.1f over the same days.", t.Others.Point)
	}
	return t
}

func (s span) period() Period {
	const method = "mean, Student's t interval"
	p := Period{Forms: len(s.faults), Orders: s.orders, Remade: stats.Missing(s.orders, "share", tooFew(s.orders)), Faults: stats.Missing(len(s.faults), method, tooFew(len(s.faults))),
		FormOrders: remakes.Newest(s.of), MatureOrders: remakes.Newest(s.mature)}
	if s.orders >= LeastOrders {
		p.Remade = remakes.Rate(s.again, s.orders)
	}
	if n := len(s.faults); n >= LeastOrders {
		mean, sd := stat.MeanStdDev(s.faults, nil)
		half := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile(1-(1-level)/2) * sd / math.Sqrt(float64(n))
		p.Faults = stats.Estimate{Point: mean, Low: math.Max(0, mean-half), High: mean + half, Level: level, N: n, Method: method}
	}
	return p
}

func tooFew(n int) string { return fmt.Sprintf("too few to tell: %d, %d needed", n, LeastOrders) }

// change is after less before, of the faults a form.
func change(s [2]span) stats.Estimate {
	const method = "difference of means, Welch's t interval"
	a, b := s[0].faults, s[1].faults
	if len(a) < LeastOrders || len(b) < LeastOrders {
		return stats.Missing(len(a)+len(b), method, tooFew(min(len(a), len(b))))
	}
	return stats.Welch(b, a, level)
}
