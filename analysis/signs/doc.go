// Package signs reads a measurer's habits off the numbers of ordinary forms:
// numbers rounded off, one side copied to the other, girths that run high or low beside
// what the traced foot makes likely, a tape that lies at another height of the leg.
//
//  1. A [Form] is a form's numbers with who took them.
//  2. Each sign is a value per form: a count of numbers, or a deviation in millimetres
//     that is left after a regression within measurers ([residuals]) on what was
//     traced, so that whose customers have larger feet says nothing.
//  3. [Of] holds each measurer's forms against those of all others: the difference
//     of means, or of shares, with its interval, forms being the draws.
//  4. A sign stands out where that can't well be chance among all measurers (Benjamini and Hochberg, false discovery rate 5 %) and is large
//     enough to matter.
//
// From ordinary forms a tape read from the wrong line and one pulled tighter look
// alike; a session with an instructor tells them apart (analysis/repeatability).
package signs

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// A Form is one form with its numbers.
type Form struct {
	ID, Measurer string
	Sex          form.Sex
	Numbers      []form.Number
}

// LeastForms is the number of forms below which nothing is said of a measurer.
const LeastForms = 8

const (
	level = stats.DefaultLevel
	// foundRate is the share of false ones among the signs that stand out.
	foundRate = 0.05
)

// The signs.
const (
	RoundedOff  = "rounded-off"
	SidesAlike  = "sides-alike"
	TapeShifted = "tape-shifted"
	TapeHeight  = "tape-height"
	Girth       = "girth-" // with the point: girth-ball
)

// A Sign is one habit of a measurer.
type Sign struct {
	Sign  string         `json:"sign"`
	Unit  string         `json:"unit"` // mm, or share
	Value stats.Estimate `json:"value"`
	// StandsOut: it can't well be chance and is large enough to matter.
	StandsOut bool `json:"stands_out"`
	// FormsNeeded is the number of forms that make the interval reach no further than
	// what matters to either side. 0 where that can't be said.
	FormsNeeded int    `json:"forms_needed"`
	Says        string `json:"says"`
	// Examples are forms that show it most, newest first; only where it stands out.
	Examples []string `json:"examples"`
	// Forms are those it was read off, newest first.
	Forms []string `json:"-" cbor:"forms"`
	// PValue is that of no difference, before it is held against the other signs.
	PValue float64 `json:"p_value"`
}

// what matters, of a mean difference in mm and of a share (judgement: half of the 4 mm
// that ISO 20685 allows of a foot girth; a tape that lies a finger's breadth too high; one number in ten).
const (
	mattersMM     = 2
	mattersHeight = 10
	mattersShare  = 0.1
)

// Of are the signs of each measurer with at least LeastForms forms, in a fixed order. Forms are to
// be given oldest first; only the order of examples depends on it.
func Of(forms []Form) map[string][]Sign {
	count := map[string]int{}
	for _, f := range forms {
		count[f.Measurer]++
	}
	forms = slices.DeleteFunc(slices.Clone(forms), func(f Form) bool { return f.Measurer == "" || count[f.Measurer] < LeastForms })
	values := [][]valued{rounding(forms), alike(forms)}
	names := []string{RoundedOff, SidesAlike}
	girths := girthDeviations(forms)
	values, names = append(values, common(girths)), append(names, TapeShifted)
	for k, p := range footGirths {
		values, names = append(values, girths[k]), append(names, Girth+p.String())
	}
	values, names = append(values, heightShifts(forms)), append(names, TapeHeight)
	out := map[string][]Sign{}
	ids := people(forms)
	for _, id := range ids {
		for k, name := range names {
			out[id] = append(out[id], signOf(name, id, forms, values[k]))
		}
	}
	for k := range names {
		p := make([]float64, len(ids))
		for i, id := range ids {
			p[i] = out[id][k].PValue
		}
		for i, q := range stats.BenjaminiHochberg(p) {
			s := &out[ids[i]][k]
			s.StandsOut = q <= foundRate && math.Abs(s.Value.Point) >= s.matters()
			s.say()
			if !s.StandsOut {
				s.Examples = []string{}
			}
		}
	}
	return out
}

func (s *Sign) matters() float64 {
	switch {
	case s.Unit == "share":
		return mattersShare
	case s.Sign == TapeHeight:
		return mattersHeight
	}
	return mattersMM
}

func people(forms []Form) (ids []string) {
	for _, f := range forms {
		ids = append(ids, f.Measurer)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// A valued is what one form (by its place in the list) says of a sign: of n numbers, hits show it and so
// many were to be expected; or, n 1, a deviation. Weight is how much it tells.
type valued struct {
	form          int
	hits, n, want float64
}

// signOf holds the values of a measurer's forms against those of all others.
func signOf(name, id string, forms []Form, values []valued) Sign {
	s := Sign{Sign: name, Unit: "mm", PValue: 1, Examples: []string{}}
	var own, others []valued
	for _, v := range values {
		if forms[v.form].Measurer == id {
			own = append(own, v)
		} else {
			others = append(others, v)
		}
	}
	switch {
	case name == RoundedOff:
		s.Unit = "share"
		s.excess(own)
	case name == SidesAlike:
		s.Unit = "share"
		s.difference(own, others)
	default:
		s.difference(own, others)
	}
	for _, v := range slices.Backward(slices.SortedFunc(slices.Values(own), func(a, b valued) int { return cmp.Compare(a.form, b.form) })) {
		s.Forms = append(s.Forms, forms[v.form].ID)
	}
	slices.SortStableFunc(own, func(a, b valued) int { // most of it first, then newest
		sign := 1.0
		if s.Value.Point < 0 {
			sign = -1
		}
		return cmp.Or(cmp.Compare(sign*(b.hits-b.want)/b.n, sign*(a.hits-a.want)/a.n), cmp.Compare(b.form, a.form))
	})
	for _, v := range own[:min(len(own), 3)] {
		s.Examples = append(s.Examples, forms[v.form].ID)
	}
	return s
}

// difference is the mean of own less that of others, by Welch's t: the forms
// are the draws, each with the weight of its numbers.
func (s *Sign) difference(own, others []valued) {
	const method = "difference of means from all others' forms, Welch's t interval"
	if len(own) < LeastForms || len(others) < LeastForms {
		s.Value = stats.Missing(len(own), method, fmt.Sprintf("too few to tell: %d forms that show it either way and %d of others, %d needed of each", len(own), len(others), LeastForms))
		return
	}
	m1, v1 := weightedMean(own)
	m2, v2 := weightedMean(others)
	s.fromSE(m1-m2, math.Sqrt(v1+v2), (v1+v2)*(v1+v2)/(v1*v1/float64(len(own)-1)+v2*v2/float64(len(others)-1)), len(own), method)
}

// weightedMean is the ratio of sums and its variance with forms as the draws.
func weightedMean(values []valued) (mean, variance float64) {
	hits, n := 0.0, 0.0
	for _, v := range values {
		hits, n = hits+v.hits-v.want, n+v.n
	}
	mean = hits / n
	for _, v := range values {
		d := v.hits - v.want - mean*v.n
		variance += d * d
	}
	k := float64(len(values))
	return mean, variance / (n * n) * k / (k - 1)
}

// excess is the share of numbers that were rounded off: of those that would not have
// been whole anyway. Its error is the larger of the binomial's and that of forms as
// the draws, since a few forms may agree by chance.
func (s *Sign) excess(own []valued) {
	const method = "share of whole numbers beyond what the finest division on the form lets expect, t interval"
	hits, n, want, binomial := 0.0, 0.0, 0.0, 0.0
	for _, v := range own {
		hits, n, want = hits+v.hits, n+v.n, want+v.want
		binomial += v.want * (1 - v.want/v.n)
	}
	if len(own) < LeastForms {
		s.Value = stats.Missing(len(own), method, fmt.Sprintf("too few to tell: %d forms with numbers finer than whole, %d needed", len(own), LeastForms))
		return
	}
	_, variance := weightedMean(own)
	free := 1 - want/n
	s.fromSE((hits-want)/n/free, math.Sqrt(math.Max(variance, binomial/(n*n)))/free, float64(len(own)-1), len(own), method)
}

func (s *Sign) fromSE(point, se, df float64, n int, method string) {
	if !(se > 0) || !(df > 0) {
		s.Value = stats.Missing(n, method, "the forms do not differ at all: there is nothing to judge by")
		return
	}
	t := distuv.StudentsT{Sigma: 1, Nu: df}
	half := t.Quantile(1-(1-level)/2) * se
	s.Value = stats.Estimate{Point: point, Low: point - half, High: point + half, Level: level, N: n, Method: method}
	s.PValue = 2 * t.Survival(math.Abs(point)/se)
	if f := float64(n) * math.Pow(half/s.matters(), 2); f < 1e6 {
		s.FormsNeeded = int(math.Ceil(math.Max(f, LeastForms)))
	}
}

// say puts a sign in words.
func (s *Sign) say() {
	v := s.Value
	if !v.Given() {
		s.Says = "Can't be told: " + v.Warnings[0] + "."
		return
	}
	if !s.StandsOut {
		s.Says = "Nothing that stands out."
		if s.FormsNeeded > v.N {
			s.Says += fmt.Sprintf(" About %d forms are needed to say more; there are %d.", s.FormsNeeded, v.N)
		}
		return
	}
	more := "more"
	if v.Point < 0 {
		more = "less"
	}
	switch s.Sign {
	case RoundedOff:
		s.Says = fmt.Sprintf("About %.0f of 100 numbers are rounded off to whole inches or centimetres where the tape shows finer ones.", 100*v.Point)
	case SidesAlike:
		s.Says = fmt.Sprintf("Left and right have the very same number in %.0f of 100 pairs more than on others' forms: one side may be copied.", 100*v.Point)
		if v.Point < 0 {
			s.Says = fmt.Sprintf("Left and right have the very same number in %.0f of 100 pairs fewer than on others' forms.", -100*v.Point)
		}
	case TapeShifted:
		s.Says = fmt.Sprintf("All girths of the foot together are about %.0f mm %s than others read of such feet: the tape may be read from the wrong line, or pulled %s.", math.Abs(v.Point), more, map[string]string{"more": "looser", "less": "tighter"}[more])
	case TapeHeight:
		s.Says = fmt.Sprintf("The leg reads as if the tape lay about %.0f mm %s than others lay it.", math.Abs(v.Point), map[string]string{"more": "higher", "less": "lower"}[more])
	default:
		s.Says = fmt.Sprintf("The %s girth is about %.0f mm %s than others read of such feet.", s.Sign[len(Girth):], math.Abs(v.Point), more)
	}
}
