package signs

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"lastroom/analysis/form"
)

var footGirths = []form.Point{form.Ball, form.Instep, form.Heel, form.Ankle}

// means are a form's bare numbers, both sides averaged, by place of the left side.
func means(f Form) map[form.Place]float64 {
	sum, n := map[form.Place]float64{}, map[form.Place]float64{}
	for _, m := range f.Numbers {
		if m.Clothing != form.Bare || !(m.ValueMM > 0) {
			continue
		}
		m.Side = form.Left
		sum[m.Place], n[m.Place] = sum[m.Place]+m.ValueMM, n[m.Place]+1
	}
	for p := range sum {
		sum[p] /= n[p]
	}
	return sum
}

// girthDeviations are, for each girth of the foot, what of it is not explained by the
// tracing's length and breadth and by sex.
func girthDeviations(forms []Form) [][]valued {
	out := make([][]valued, len(footGirths))
	for k, p := range footGirths {
		var rows []row
		for i, f := range forms {
			m := means(f)
			length, breadth, girth := m[form.Place{Point: form.Length}], m[form.Place{Point: form.Breadth}], m[form.Place{Point: p}]
			if length > 0 && breadth > 0 && girth > 0 {
				rows = append(rows, row{i, append(sexes(f), length, breadth), girth})
			}
		}
		out[k] = residuals(forms, rows)
	}
	return out
}

func sexes(f Form) []float64 {
	s := []float64{0, 0}
	switch f.Sex {
	case form.Female:
		s[0] = 1
	case form.SexUnknown:
		s[1] = 1
	}
	return s
}

// A row is one form's explaining values and the number to be explained.
type row struct {
	form int
	x    []float64
	y    float64
}

// residuals are y - x b with b from least squares within measurers, so that b is not
// bent by habits. Numbers further off than four robust standard deviations are faults of single forms and
// left out, b fitted anew. Nothing where there are too few rows.
func residuals(forms []Form, rows []row) (out []valued) {
	for range 2 {
		if out = fitWithin(forms, rows); out == nil {
			return nil
		}
		r := make([]float64, len(out))
		for k, v := range out {
			r[k] = v.hits
		}
		middle := median(r)
		for k := range r {
			r[k] = math.Abs(r[k] - middle)
		}
		far := 4 * 1.4826 * median(r)
		var kept []row
		for k, v := range out {
			if math.Abs(v.hits-middle) <= far {
				kept = append(kept, rows[k])
			}
		}
		rows = kept
	}
	return fitWithin(forms, rows)
}

func fitWithin(forms []Form, rows []row) []valued {
	if len(rows) == 0 || len(rows) < 3*len(rows[0].x)+LeastForms {
		return nil
	}
	k := len(rows[0].x)
	sums, n := map[string][]float64{}, map[string]float64{}
	for _, r := range rows {
		id := forms[r.form].Measurer
		if sums[id] == nil {
			sums[id] = make([]float64, k+1)
		}
		for j, x := range r.x {
			sums[id][j] += x
		}
		sums[id][k] += r.y
		n[id]++
	}
	a, b := mat.NewSymDense(k, nil), mat.NewVecDense(k, nil)
	d := make([]float64, k)
	for _, r := range rows {
		id := forms[r.form].Measurer
		for j := range d {
			d[j] = r.x[j] - sums[id][j]/n[id]
		}
		dy := r.y - sums[id][k]/n[id]
		for j := range d {
			b.SetVec(j, b.AtVec(j)+d[j]*dy)
			for l := j; l < k; l++ {
				a.SetSym(j, l, a.At(j, l)+d[j]*d[l])
			}
		}
	}
	for j := range k { // a column that never varies gets 0
		a.SetSym(j, j, a.At(j, j)+1e-6*(1+a.At(j, j)))
	}
	var chol mat.Cholesky
	var beta mat.VecDense
	if !chol.Factorize(a) || chol.SolveVecTo(&beta, b) != nil {
		return nil
	}
	out := make([]valued, len(rows))
	for i, r := range rows {
		v := r.y
		for j, x := range r.x {
			v -= beta.AtVec(j) * x
		}
		out[i] = valued{form: r.form, hits: v, n: 1}
	}
	return out
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Clone(x)
	slices.Sort(s)
	return s[len(s)/2]
}

// common is the shift that all girths of the foot have in common on a form: of their
// deviations the mean with the least variance, weights the inverse of their
// covariance times ones (generalised least squares). Forms that lack a girth are left out.
func common(girths [][]valued) []valued {
	at := map[int][]float64{}
	for _, g := range girths {
		for _, v := range g {
			at[v.form] = append(at[v.form], v.hits)
		}
	}
	var all []int
	for f, v := range at {
		if len(v) == len(girths) {
			all = append(all, f)
		}
	}
	slices.Sort(all)
	k := len(girths)
	if len(all) < 3*k {
		return nil
	}
	centre := make([]float64, k)
	for _, f := range all {
		for j, v := range at[f] {
			centre[j] += v / float64(len(all))
		}
	}
	cov := mat.NewSymDense(k, nil)
	for _, f := range all {
		for j := range k {
			for l := j; l < k; l++ {
				cov.SetSym(j, l, cov.At(j, l)+(at[f][j]-centre[j])*(at[f][l]-centre[l])/float64(len(all)-1))
			}
		}
	}
	var chol mat.Cholesky
	var w mat.VecDense
	ones := mat.NewVecDense(k, slices.Repeat([]float64{1}, k))
	if !chol.Factorize(cov) || chol.SolveVecTo(&w, ones) != nil {
		return nil
	}
	total := mat.Sum(&w)
	var out []valued
	for _, f := range all {
		v := 0.0
		for j, x := range at[f] {
			v += w.AtVec(j) / total * x
		}
		out = append(out, valued{form: f, hits: v, n: 1})
	}
	return out
}

// heightShifts are how far up the leg the tape of a form seems to lie. Girths at heights where the
// leg still widens are explained by the ankle, the largest girth and sex; what is left,
// over how fast legs widen there, is a height. Forms count that have the ankle and girths
// at both ends of the widening.
func heightShifts(forms []Form) []valued {
	sums, n := map[form.Height]float64{}, map[form.Height]float64{}
	var tall []int
	of := make([]map[form.Place]float64, len(forms))
	for i, f := range forms {
		m := means(f)
		legs := 0
		for p := range m {
			if p.Point == form.Leg {
				legs++
			}
		}
		if legs < 2 || !(m[form.Place{Point: form.Ankle}] > 0) {
			continue
		}
		of[i] = m
		tall = append(tall, i)
		for p, v := range m {
			if p.Point == form.Leg {
				sums[p.HeightMM], n[p.HeightMM] = sums[p.HeightMM]+v, n[p.HeightMM]+1
			}
		}
	}
	var heights []form.Height
	for h, k := range n {
		if k >= 3*LeastForms {
			heights = append(heights, h)
		}
	}
	slices.Sort(heights)
	weight, rise := map[int]float64{}, map[int]float64{}
	for k, h := range heights[:max(len(heights)-1, 0)] {
		// How fast legs widen there, over the forms that have both heights.
		up, both := 0.0, 0.0
		for _, i := range tall {
			lower, higher := of[i][form.Place{Point: form.Leg, HeightMM: h}], of[i][form.Place{Point: form.Leg, HeightMM: heights[k+1]}]
			if lower > 0 && higher > 0 {
				up, both = up+(higher-lower)/float64(heights[k+1]-h), both+1
			}
		}
		slope := up / both
		if both < 3*LeastForms || slope < 0.3 {
			continue
		}
		var rows []row
		for _, i := range tall {
			y, most := of[i][form.Place{Point: form.Leg, HeightMM: h}], 0.0
			for p, v := range of[i] {
				if p.Point == form.Calf || p.Point == form.Leg && p.HeightMM > h {
					most = math.Max(most, v)
				}
			}
			if y > 0 && most > 0 {
				rows = append(rows, row{i, append(sexes(forms[i]), of[i][form.Place{Point: form.Ankle}], most), y})
			}
		}
		for _, v := range residuals(forms, rows) {
			rise[v.form] += slope * v.hits
			weight[v.form] += slope * slope
		}
	}
	var out []valued
	for f, w := range weight {
		out = append(out, valued{form: f, hits: rise[f], n: w})
	}
	slices.SortFunc(out, func(a, b valued) int { return cmp.Compare(a.form, b.form) })
	return out
}
