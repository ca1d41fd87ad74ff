package stats

import (
	"errors"
	"math"
	"slices"
)

// A Discrimination is how well a score tells subjects with an event from the
// others: the area under the ROC curve, which is the chance that one with an
// event scores higher than one without, ties counting half.
type Discrimination struct {
	AUC float64
	N   int
	// The share of the others that each subject is on the right side of: those
	// with an event, then those without, in the order given.
	with, without []float64
}

// Discriminate works out the area under the ROC curve. There is none where all
// subjects or none have an event.
//
// DeLong ER, DeLong DM, Clarke-Pearson DL (1988) Biometrics 44:837-845, by ranks
// as in Sun X, Xu W (2014) IEEE Signal Process Lett 21:1389-1393.
func Discriminate(score []float64, event []bool) (*Discrimination, error) {
	var with, without []float64
	for i, s := range score {
		if event[i] {
			with = append(with, s)
		} else {
			without = append(without, s)
		}
	}
	if len(with) == 0 || len(without) == 0 {
		return nil, errors.New("all subjects or none have an event: nothing to tell apart")
	}
	d := &Discrimination{N: len(score), with: shareBelow(with, without), without: shareBelow(without, with)}
	for j, v := range d.without {
		d.without[j] = 1 - v
	}
	for _, v := range d.with {
		d.AUC += v / float64(len(with))
	}
	return d, nil
}

// shareBelow is the share of others below each of some scores, ties half.
func shareBelow(scores, others []float64) []float64 {
	sorted := slices.Sorted(slices.Values(others))
	out, below, upTo := make([]float64, len(scores)), 0, 0
	for _, i := range Order(scores) {
		for below < len(sorted) && sorted[below] < scores[i] {
			below++
		}
		for upTo < len(sorted) && sorted[upTo] <= scores[i] {
			upTo++
		}
		out[i] = (float64(below) + float64(upTo)) / 2 / float64(len(sorted))
	}
	return out
}

// covariance of the areas of two scores of the same subjects; with itself, the
// variance.
func (d *Discrimination) covariance(e *Discrimination) float64 {
	return covariance(d.with, e.with)/float64(len(d.with)) + covariance(d.without, e.without)/float64(len(d.without))
}

// covariance has the divisor n-1; NaN under two.
func covariance(a, b []float64) float64 {
	n := float64(len(a))
	ma, mb, s := 0.0, 0.0, 0.0
	for i := range a {
		ma, mb = ma+a[i]/n, mb+b[i]/n
	}
	for i := range a {
		s += (a[i] - ma) * (b[i] - mb)
	}
	return s / (n - 1)
}

// Estimate is the area with DeLong's interval.
func (d *Discrimination) Estimate(level float64) Estimate {
	spread := Z(level) * math.Sqrt(d.covariance(d))
	return Estimate{Point: d.AUC, Low: math.Max(0, d.AUC-spread), High: math.Min(1, d.AUC+spread), Level: level, N: d.N, Method: "area under the ROC curve, DeLong"}
}
