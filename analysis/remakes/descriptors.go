package remakes

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"lastroom/analysis/cohort"
	"lastroom/analysis/regression"
)

// What is too rare, or too many, to be a column of its own (judgement).
const (
	leastLevel = 20 // orders of a level of a descriptor
	maxHeights = 64 // distinct shaft heights; more are rounded to 10 mm
	maxLevels  = 15 // levels of a descriptor
)

// The descriptors are the parts of the order that are not faults: the kind of
// boot, the wearer, where it was measured and, if asked for, time.
func descriptors(c *cohort.Cohort, o modelOptions, notes *[]string) []regression.Term {
	ds := []regression.Term{height(c)}
	for _, f := range []struct {
		name   string
		factor cohort.Factor
	}{{"closure", c.Closure}, {"channel", c.Channel}, {"orthotic", c.Orthotic}, {"sex", c.Sex}, {"tucked", c.Tucked}, {"sock", c.Sock}} {
		ds = append(ds, factorTerms(f.name, f.factor, notes))
	}
	if o.time && c.Len() > 0 {
		ds = append(ds, timeTerms(c, o.months))
	}
	return ds
}

// factorTerms gives each level but the commonest a column. Levels under
// leastLevel orders are one "other"; if that is still too few it joins the
// commonest.
func factorTerms(name string, f cohort.Factor, notes *[]string) regression.Term {
	n, order := commonest(f)
	group := make([]int, len(n))
	d := regression.Term{Values: [][]float64{nil}}
	rest := 0
	for r, k := range order {
		switch {
		case r == 0:
		case n[k] >= leastLevel && r <= maxLevels:
			level := f.Levels[k]
			if level == "" {
				level = "unknown"
			}
			d.Names = append(d.Names, name+" "+level)
			group[k] = len(d.Names)
		default:
			rest += n[k]
			group[k] = -1
		}
	}
	other := 0
	if rest >= leastLevel {
		d.Names = append(d.Names, name+" other")
		other = len(d.Names)
	}
	if rest > 0 {
		*notes = append(*notes, fmt.Sprintf("%s: levels with fewer than %d orders were taken together (%d orders)", name, leastLevel, rest))
	}
	for k := range group {
		if group[k] < 0 {
			group[k] = other
		}
	}
	for g := range d.Names {
		v := make([]float64, len(d.Names))
		v[g] = 1
		d.Values = append(d.Values, v)
	}
	d.Code = func(i int) int { return group[f.Code[i]] }
	return d
}

// commonest counts the orders of each level, and gives the levels in order of
// their counts, the commonest first.
func commonest(f cohort.Factor) (n, order []int) {
	n, order = make([]int, len(f.Levels)), make([]int, len(f.Levels))
	for _, k := range f.Code {
		n[k]++
	}
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return n[b] - n[a] })
	return n, order
}

// height is the shaft height, linear and squared, centred and scaled.
func height(c *cohort.Cohort) regression.Term {
	mm, code := heightCodes(c.ShaftMM)
	sum, sum2, n, blank := 0.0, 0.0, 0.0, 0
	for _, k := range code {
		if k < 0 {
			blank++
			continue
		}
		sum, sum2, n = sum+mm[k], sum2+mm[k]*mm[k], n+1
	}
	mean := sum / math.Max(n, 1)
	sd := math.Sqrt(math.Max(0, sum2/math.Max(n, 1)-mean*mean))
	var d regression.Term
	if len(mm) > 1 && sd > 0 {
		d.Names = append(d.Names, "shaft height")
	}
	if len(mm) > 2 && sd > 0 {
		d.Names = append(d.Names, "shaft height squared")
	}
	shape := len(d.Names)
	if blank >= leastLevel {
		d.Names = append(d.Names, "shaft height unknown")
	}
	for _, h := range mm {
		z := (h - mean) / math.Max(sd, 1e-9)
		d.Values = append(d.Values, append([]float64{z, z * z}[:shape:shape], make([]float64, len(d.Names)-shape)...))
	}
	unknown := make([]float64, len(d.Names))
	if blank >= leastLevel {
		unknown[shape] = 1
	}
	d.Values = append(d.Values, unknown)
	d.Code = func(i int) int {
		if code[i] < 0 {
			return len(mm)
		}
		return int(code[i])
	}
	return d
}

// heightCodes are the distinct heights, ascending, and each order's code; -1
// where the height is not known. With more than maxHeights of them they are
// rounded to 10 mm, if need be to 50 mm up to 1 m.
func heightCodes(shaft []float64) (mm []float64, code []int32) {
	known := func(h float64) bool { return !math.IsNaN(h) && !math.IsInf(h, 0) }
	rounded := func(h, step float64) float64 {
		switch step {
		case 0:
			return h
		case 10:
			return math.Round(h/step) * step
		}
		return math.Max(0, math.Min(1000, math.Round(h/step)*step))
	}
	var step float64
	for _, step = range []float64{0, 10, 50} {
		seen := map[float64]bool{}
		for _, h := range shaft {
			if known(h) && len(seen) <= maxHeights {
				seen[rounded(h, step)] = true
			}
		}
		if len(seen) <= maxHeights {
			mm = slices.Sorted(maps.Keys(seen))
			break
		}
	}
	code = make([]int32, len(shaft))
	for i, h := range shaft {
		code[i] = -1
		if known(h) {
			k, _ := slices.BinarySearch(mm, rounded(h, step))
			code[i] = int32(k)
		}
	}
	return mm, code
}

// timeTerms are a straight trend over shipping quarters (or months) and, with
// two years or more, the season as one wave a year.
func timeTerms(c *cohort.Cohort, months bool) regression.Term {
	unit := func(i int) int { return int(c.Shipped[i].Month()) / 3 }
	perYear := 4
	if months {
		unit, perYear = func(i int) int { return int(c.Shipped[i].Month()) }, 12
	}
	first, last := unit(0), unit(c.Len()-1)
	units := last - first + 1
	d := regression.Term{Code: func(i int) int { return unit(i) - first }}
	if units > 1 {
		d.Names = append(d.Names, "trend")
	}
	if units >= 2*perYear {
		d.Names = append(d.Names, "season (sine)", "season (cosine)")
	}
	for k := range units {
		years := float64(k) / float64(perYear)
		angle := 2 * math.Pi * (float64((first+k)%perYear) + 0.5) / float64(perYear)
		v := []float64{years - float64(units-1)/2/float64(perYear), math.Sin(angle), math.Cos(angle)}
		d.Values = append(d.Values, v[:len(d.Names)])
	}
	return d
}
