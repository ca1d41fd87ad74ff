// Package instructions compares versions of the measuring instructions by the
// faults of the forms that were measured by them.
package instructions

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// A Cell is the forms of one version and channel: how many, and of their numbers of
// faults the sum and the sum of squares.
type Cell struct {
	Version, Channel   string
	Forms, Sum, Square int
	FormIDs            []string // of the forms; none where they are many
}

// A Version is one row of the comparison.
type Version struct {
	Version string         `json:"version"`
	Forms   int            `json:"forms"`
	PerForm stats.Estimate `json:"faults_per_form"`
	// More is how many faults a form has more than by the first version, where channels
	// are the same; Missing for the first.
	More  stats.Estimate `json:"more_than_first"`
	Words string         `json:"words"`
	// FormIDs are those of the forms; none where they are more than [remakes.MostBehind].
	FormIDs []string `json:"-" cbor:"form_ids"`
}

// leastForms is the number of forms of a version below which nothing is said of it.
const leastForms = 20

const level = stats.DefaultLevel

// Compare is one row a version, by its letter; none where the book has no letters.
func Compare(cells []Cell) []Version {
	cells = slices.DeleteFunc(slices.Clone(cells), func(c Cell) bool { return c.Version == "" || c.Forms <= 0 })
	slices.SortFunc(cells, func(a, b Cell) int {
		return cmp.Or(cmp.Compare(a.Version, b.Version), cmp.Compare(a.Channel, b.Channel))
	})
	by := map[string][]Cell{}
	out := []Version{}
	for _, c := range cells {
		if by[c.Version] == nil {
			out = append(out, Version{Version: c.Version})
		}
		by[c.Version] = append(by[c.Version], c)
	}
	for k := range out {
		v := &out[k]
		all := sum(by[v.Version])
		v.Forms, v.PerForm = all.Forms, all.mean()
		if len(all.FormIDs) == all.Forms && all.Forms <= remakes.MostBehind {
			v.FormIDs = all.FormIDs
		}
		v.More = stats.Missing(0, adjusted, "the others are compared with this version")
		if k == 0 {
			v.Words = "The others are compared with this version."
			continue
		}
		v.More = more(by[v.Version], by[out[0].Version])
		v.Words = words(v.More, out[0].Version)
	}
	return out
}

func sum(cells []Cell) (all Cell) {
	for _, c := range cells {
		all.Forms, all.Sum, all.Square = all.Forms+c.Forms, all.Sum+c.Sum, all.Square+c.Square
		all.FormIDs = append(all.FormIDs, c.FormIDs...)
	}
	return all
}

// moments are the mean and the variance of the forms' faults.
func (c Cell) moments() (mean, variance float64) {
	n := float64(c.Forms)
	mean = float64(c.Sum) / n
	return mean, math.Max(0, float64(c.Square)-n*mean*mean) / (n - 1)
}

func tooFew(n int) string { return fmt.Sprintf("too few to tell: %d forms, %d needed", n, leastForms) }

func (c Cell) mean() stats.Estimate {
	const method = "mean, Student's t interval"
	if c.Forms < leastForms {
		return stats.Missing(c.Forms, method, tooFew(c.Forms))
	}
	mean, variance := c.moments()
	half := distuv.StudentsT{Sigma: 1, Nu: float64(c.Forms - 1)}.Quantile(1-(1-level)/2) * math.Sqrt(variance/float64(c.Forms))
	return stats.Estimate{Point: mean, Low: math.Max(0, mean-half), High: mean + half, Level: level, N: c.Forms, Method: method}
}

const adjusted = "difference of means within channels, each with the weight of n m/(n + m) forms, Student's t interval"

// more is the difference of two versions' means within channels. Channels in which either has
// fewer than two forms say nothing of it.
func more(a, b []Cell) stats.Estimate {
	weights, total, variance := 0.0, 0.0, 0.0
	n, channels := [2]int{}, 0
	for _, x := range a {
		k := slices.IndexFunc(b, func(c Cell) bool { return c.Channel == x.Channel })
		if k < 0 || x.Forms < 2 || b[k].Forms < 2 {
			continue
		}
		y := b[k]
		w := float64(x.Forms) * float64(y.Forms) / float64(x.Forms+y.Forms)
		m1, v1 := x.moments()
		m2, v2 := y.moments()
		weights, total = weights+w, total+w*(m1-m2)
		variance += w * w * (v1/float64(x.Forms) + v2/float64(y.Forms))
		n[0], n[1], channels = n[0]+x.Forms, n[1]+y.Forms, channels+1
	}
	if least := min(n[0], n[1]); least < leastForms {
		return stats.Missing(n[0]+n[1], adjusted, tooFew(least)+" in channels that both have")
	}
	point, se := total/weights, math.Sqrt(variance)/weights
	half := distuv.StudentsT{Sigma: 1, Nu: float64(n[0] + n[1] - 2*channels)}.Quantile(1-(1-level)/2) * se
	return stats.Estimate{Point: point, Low: point - half, High: point + half, Level: level, N: n[0] + n[1], Method: adjusted}
}

func words(e stats.Estimate, first string) string {
	switch {
	case !e.Given():
		return "Too few to tell."
	case e.High < 0:
		return fmt.Sprintf("Its forms have fewer faults than those by %s.", first)
	case e.Low > 0:
		return fmt.Sprintf("Its forms have more faults than those by %s.", first)
	}
	return fmt.Sprintf("No difference from %s that can't be chance.", first)
}
