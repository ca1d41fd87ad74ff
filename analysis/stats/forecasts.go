package stats

import (
	"math"
)

// Brier is the mean square of forecast less event, with the normal interval of
// the mean.
//
// Brier GW (1950) Mon Weather Rev 78:1-3.
func Brier(forecast []float64, event []bool, level float64) Estimate {
	of := make([]float64, len(forecast))
	for i, p := range forecast {
		of[i] = (p - indicator(event[i])) * (p - indicator(event[i]))
	}
	return mean(of, level, "mean square of forecast less outcome, normal interval")
}

func indicator(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// mean is the mean of independent values with its normal interval.
func mean(of []float64, level float64, method string) Estimate {
	n := float64(len(of))
	if n < 2 {
		return Missing(len(of), method, "fewer than two values")
	}
	m, s := 0.0, 0.0
	for _, v := range of {
		m += v / n
	}
	for _, v := range of {
		s += (v - m) * (v - m)
	}
	spread := Z(level) * math.Sqrt(s/(n-1)/n)
	return Estimate{Point: m, Low: m - spread, High: m + spread, Level: level, N: len(of), Method: method}
}

// BrierParts are what a Brier score is made of, forecasts taken in groups of
// equal size: Reliability - Resolution + Uncertainty + Within. Reliability is how
// far the groups' forecasts are off, Resolution how far the groups differ from
// the whole, Uncertainty the score of the overall share, Within what is lost or
// gained by taking different forecasts together.
//
// Murphy AH (1973) J Appl Meteorol 12:595-600; Within as in Stephenson DB, Coelho
// CAS, Jolliffe IT (2008) Weather Forecast 23:752-757.
type BrierParts struct {
	Reliability Value `json:"reliability"`
	Resolution  Value `json:"resolution"`
	Uncertainty Value `json:"uncertainty"`
	Within      Value `json:"within_groups"`
}

// A ForecastGroup is subjects whose forecasts are close together.
type ForecastGroup struct {
	N, Events int
	Forecast  float64 // mean
}

// ForecastGroups parts subjects by their forecasts into at most so many groups of
// about equal size; equal forecasts stay together.
func ForecastGroups(forecast []float64, event []bool, groups int) (out []ForecastGroup) {
	order := Order(forecast)
	last, sums := -1, []float64{}
	for r, i := range order {
		g := r * groups / len(order)
		if len(out) == 0 || g != last && forecast[i] > forecast[order[r-1]] {
			out, sums, last = append(out, ForecastGroup{}), append(sums, 0), g
		}
		k := len(out) - 1
		out[k].N++
		sums[k] += forecast[i]
		if event[i] {
			out[k].Events++
		}
	}
	for k := range out {
		out[k].Forecast = sums[k] / float64(out[k].N)
	}
	return out
}

// PartsOfBrier are those of a Brier score over such groups.
func PartsOfBrier(groups []ForecastGroup, score float64) BrierParts {
	n, events := 0, 0
	for _, g := range groups {
		n, events = n+g.N, events+g.Events
	}
	share := float64(events) / float64(n)
	var rel, res float64
	for _, g := range groups {
		o, w := float64(g.Events)/float64(g.N), float64(g.N)/float64(n)
		rel += w * (g.Forecast - o) * (g.Forecast - o)
		res += w * (o - share) * (o - share)
	}
	unc := share * (1 - share)
	return BrierParts{Value(rel), Value(res), Value(unc), Value(score - rel + res - unc)}
}

// CalibrationInTheLarge is how far the forecasts are off on the logit scale, all
// moved alike: above 0 where more events came than were forecast.
//
// Cox DR (1958) Biometrika 45:562-565.
func CalibrationInTheLarge(forecast []float64, event []bool, level float64) Estimate {
	const method = "calibration in the large: intercept with the forecast's logit as offset, Wald"
	events := 0.0
	for _, e := range event {
		events += indicator(e)
	}
	if events == 0 || int(events) == len(event) {
		return Missing(len(event), method, "all or none have an event")
	}
	a, w := 0.0, 0.0
	for range 60 {
		s := events
		w = 0
		for _, p := range forecast {
			r := Logistic(a + Logit(p))
			s -= r
			w += r * (1 - r)
		}
		step := math.Max(-2, math.Min(2, s/w))
		a += step
		if math.Abs(step) < 1e-12 {
			break
		}
	}
	spread := Z(level) / math.Sqrt(w)
	return Estimate{Point: a, Low: a - spread, High: a + spread, Level: level, N: len(event), Method: method}
}

// NetBenefit is what a decision to act on the chosen ones brings a subject,
// counted in events found: the share found less the share acted on for nothing,
// at the odds of the threshold. The interval is that of the mean over subjects.
//
// Vickers AJ, Elkin EB (2006) Med Decis Making 26:565-574.
func NetBenefit(chosen, event []bool, threshold, level float64) Estimate {
	of, odds := make([]float64, len(event)), threshold/(1-threshold)
	for i, c := range chosen {
		switch {
		case c && event[i]:
			of[i] = 1
		case c:
			of[i] = -odds
		}
	}
	return mean(of, level, "net benefit, normal interval of the mean")
}

// A CalibrationLine is the logistic regression of the events on the forecasts'
// logits: slope 1 and intercept 0 where they are right, a slope below 1 where they
// are too extreme.
type CalibrationLine struct {
	Intercept, Slope float64
	SE               float64 // of the slope, Wald
}

// Calibrate fits that line. weight is how often each subject counts; nil: once.
// Where there is no answer, as with equal forecasts, it is NaN.
func Calibrate(forecast []float64, event []bool, weight []float64) CalibrationLine {
	logit := make([]float64, len(forecast))
	for i, p := range forecast {
		logit[i] = Logit(math.Max(1e-12, math.Min(1-1e-12, p)))
	}
	l := CalibrationLine{0, 1, math.NaN()}
	for range 60 {
		var s0, s1, h00, h01, h11 float64
		for i, x := range logit {
			n := 1.0
			if weight != nil {
				n = weight[i]
			}
			r := Logistic(l.Intercept + l.Slope*x)
			e, w := n*(indicator(event[i])-r), n*r*(1-r)
			s0, s1 = s0+e, s1+e*x
			h00, h01, h11 = h00+w, h01+w*x, h11+w*x*x
		}
		det := h00*h11 - h01*h01
		if !(det > 1e-9*h00*h11) {
			return CalibrationLine{math.NaN(), math.NaN(), math.NaN()}
		}
		a, b := (h11*s0-h01*s1)/det, (h00*s1-h01*s0)/det
		scale := math.Min(1, 4/math.Max(math.Abs(a), math.Abs(b)))
		l.Intercept, l.Slope, l.SE = l.Intercept+scale*a, l.Slope+scale*b, math.Sqrt(h00/det)
		if math.Abs(a)+math.Abs(b) < 1e-10 {
			return l
		}
	}
	return l
}

// Estimate is the slope with its interval.
func (l CalibrationLine) Estimate(n int, level float64) Estimate {
	const method = "calibration slope: logistic regression of the outcome on the forecast's logit, Wald"
	if math.IsNaN(l.Slope) || math.IsNaN(l.SE) {
		return Missing(n, method, "the forecasts hardly differ, or all or none have an event")
	}
	return Estimate{Point: l.Slope, Low: l.Slope - Z(level)*l.SE, High: l.Slope + Z(level)*l.SE, Level: level, N: n, Method: method}
}

// WeightedAUC is the area under the ROC curve of subjects that count several
// times or not at all. order are the subjects by rising score.
func WeightedAUC(score []float64, event []bool, weight []float64, order []int) float64 {
	var below, pairs, with float64
	for from := 0; from < len(order); {
		to, events, others := from, 0.0, 0.0
		for ; to < len(order) && score[order[to]] == score[order[from]]; to++ {
			if i := order[to]; event[i] {
				events += weight[i]
			} else {
				others += weight[i]
			}
		}
		pairs += events * (below + others/2)
		below, with, from = below+others, with+events, to
	}
	return pairs / (with * below)
}
