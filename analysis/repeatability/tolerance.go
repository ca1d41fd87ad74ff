package repeatability

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A Tolerance is how far a measurer's mean may lie from the instructor's at a
// point.
type Tolerance struct {
	MM     float64 `json:"mm"`
	Source string  `json:"source"`
}

// iso is where the limits come from: 2 mm for measures of the foot, 4 mm for small girths,
// 9 mm for large ones.
const iso = "ISO 20685, greatest mean difference from a skilled measurer, as told by Kouchi and Mochimaru in Anthropometry, Apparel Sizing and Design"

// ToleranceOf is the greatest mean difference that ISO 20685 allows at a point. Foot and
// ankle girths are taken for small girths, those of the leg for large ones
// (judgement: the standard's own list was not read).
func ToleranceOf(point string) Tolerance {
	switch p, _ := form.ParsePoint(point); p {
	case form.Length, form.Breadth:
		return Tolerance{2, iso}
	case form.Calf, form.Leg:
		return Tolerance{9, iso}
	}
	return Tolerance{4, iso}
}

// holds says whether the whole interval lies inside the tolerance, which is the
// standard's own test.
func (t Tolerance) holds(bias stats.Estimate) string {
	switch {
	case bias.Bounded() && bias.Low > -t.MM && bias.High < t.MM:
		return "yes"
	case bias.Bounded() && (bias.Low > t.MM || bias.High < -t.MM):
		return "no"
	}
	return "can't be told yet"
}

// A PublishedError is how well others read a tape, as a yardstick.
type PublishedError struct{ What, Figure, Source string }

// PublishedErrors are those of legs and feet that were read.
var PublishedErrors = []PublishedError{
	{"Girth of the leg, one observer again", "95 % of repeats within 3.3 % (13 mm on 390 mm)", "te Slaa et al. (2011) Phlebology 26:14, 4 observers, 11 volunteers"},
	{"Girth of the leg, several observers", "4.4 % at once, 6.5 % after 12 weeks (17 and 25 mm on 390 mm)", "te Slaa et al. (2011) Phlebology 26:14"},
	{"Girth of the calf within 6 mm of each other", "81 % between observers from the bone below the knee, 65 % from the ankle, 96 % on a drawn line", "Tunc (2007) Angiology 58:593"},
	{"Lengths and breadths of the foot by hand, two operators", "ICC over 0.84", "Witana et al. (2006), 20 people, 18 dimensions"},
}

// legsForBias is the least number of legs with which the 95 % interval of a mean
// difference reaches no further than half to either side, where differences spread by sd. 0
// where that can't be worked out; never under 2.
func legsForBias(sd, half float64) int {
	if !(sd >= 0) || !(half > 0) || math.IsInf(sd, 0) {
		return 0
	}
	for n := 2; n < 100_000; n += max(1, n/50) {
		t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - (1-level)/2)
		if t*sd/math.Sqrt(float64(n)) <= half {
			return n
		}
	}
	return 0
}

// legsForTEM is the least number of legs, each taken so many times, with which the upper
// limit of a technical error is at most so many times the error. 0 for fewer than two
// times or a factor not over 1.
func legsForTEM(times int, factor float64) int {
	if times < 2 || !(factor > 1) {
		return 0
	}
	for n := 1; n < 100_000; n += max(1, n/50) {
		df := float64(n * (times - 1))
		if math.Sqrt(df/distuv.ChiSquared{K: df}.Quantile((1-level)/2)) <= factor {
			return n
		}
	}
	return 0
}
