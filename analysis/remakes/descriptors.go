package remakes

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"lastroom/analysis/cohort"
)

// A descriptor is a part of the order that is not a fault: its code for each
// order, and for each code the values of its columns.
type descriptor struct {
	terms  []string
	size   int
	code   func(i int) int
	values [][]float64
}

func descriptors(c *cohort.Cohort, o designOptions, notes *[]string) []descriptor {
	ds := []descriptor{height(c)}
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
func factorTerms(name string, f cohort.Factor, notes *[]string) descriptor {
	n, order := commonest(f)
	group := make([]int, len(n))
	d := descriptor{values: [][]float64{nil}, size: 1}
	rest := 0
	for r, k := range order {
		switch {
		case r == 0:
		case n[k] >= leastLevel && r <= maxLevels:
			level := f.Levels[k]
			if level == "" {
				level = "unknown"
			}
			d.terms = append(d.terms, name+" "+level)
			group[k] = d.size
			d.size++
		default:
			rest += n[k]
			group[k] = -1
		}
	}
	other := 0
	if rest >= leastLevel {
		d.terms = append(d.terms, name+" other")
		other = d.size
		d.size++
	}
	if rest > 0 {
		*notes = append(*notes, fmt.Sprintf("%s: levels with fewer than %d orders were taken together (%d orders)", name, leastLevel, rest))
	}
	for k := range group {
		if group[k] < 0 {
			group[k] = other
		}
	}
	for g := 1; g < d.size; g++ {
		v := make([]float64, len(d.terms))
		v[g-1] = 1
		d.values = append(d.values, v)
	}
	d.code = func(i int) int { return group[f.Code[i]] }
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
func height(c *cohort.Cohort) descriptor {
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
	d := descriptor{size: len(mm) + 1}
	if len(mm) > 1 && sd > 0 {
		d.terms = append(d.terms, "shaft height")
	}
	if len(mm) > 2 && sd > 0 {
		d.terms = append(d.terms, "shaft height squared")
	}
	shape := len(d.terms)
	if blank >= leastLevel {
		d.terms = append(d.terms, "shaft height unknown")
	}
	for _, h := range mm {
		z := (h - mean) / math.Max(sd, 1e-9)
		d.values = append(d.values, append([]float64{z, z * z}[:shape:shape], make([]float64, len(d.terms)-shape)...))
	}
	unknown := make([]float64, len(d.terms))
	if blank >= leastLevel {
		unknown[shape] = 1
	}
	d.values = append(d.values, unknown)
	d.code = func(i int) int {
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
func timeTerms(c *cohort.Cohort, months bool) descriptor {
	unit := func(i int) int { return int(c.Shipped[i].Month()) / 3 }
	perYear := 4
	if months {
		unit, perYear = func(i int) int { return int(c.Shipped[i].Month()) }, 12
	}
	first, last := unit(0), unit(c.Len()-1)
	d := descriptor{size: last - first + 1, code: func(i int) int { return unit(i) - first }}
	if d.size > 1 {
		d.terms = append(d.terms, "trend")
	}
	if d.size >= 2*perYear {
		d.terms = append(d.terms, "season (sine)", "season (cosine)")
	}
	for k := range d.size {
		years := float64(k) / float64(perYear)
		angle := 2 * math.Pi * (float64((first+k)%perYear) + 0.5) / float64(perYear)
		v := []float64{years - float64(d.size-1)/2/float64(perYear), math.Sin(angle), math.Cos(angle)}
		d.values = append(d.values, v[:len(d.terms)])
	}
	return d
}
