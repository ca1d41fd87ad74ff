package regression

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Most entries of a row are ones, of columns that say that a subject has something.
// They are kept by column. The columns of a term that holds other values, a curve
// or a place in time, are kept together: such a term has a few shapes, and a row one
// of them. What rows are multiplied with is multiplied with each shape once, and
// what is added up over rows is added up by shape first.

// A shape is the values of a term's columns for one of its codes.
type shape struct {
	column int // the term's first
	values []float64
}

// A series is the shapes of one term, from first to before end.
type series struct{ first, end int }

// rows are a design's as one model has them, one a pattern.
type rows struct {
	d *Design
	p int // columns, those of the added exposure included
	// Columns with a 1, ascending, but for the intercept, which all have: per
	// pattern those from from to ends.
	ones       []uint16
	from, ends []int32
}

func (d *Design) rows(c Columns) rows {
	x := rows{d, len(d.Names), d.ones, d.from, d.base}
	if c.Exposures {
		x.ends = d.all
	}
	if c.Added == nil {
		return x
	}
	y := rows{d, x.p + 2, make([]uint16, 0, len(d.ones)), make([]int32, len(d.from)), make([]int32, len(d.from))}
	for i, l := range c.Added {
		y.from[i] = int32(len(y.ones))
		y.ones = append(y.ones, x.of(i)...)
		switch l {
		case With:
			y.ones = append(y.ones, uint16(x.p))
		case Unknown:
			y.ones = append(y.ones, uint16(x.p+1))
		}
		y.ends[i] = int32(len(y.ones))
	}
	return y
}

// of are the columns in which pattern i has a 1.
func (x *rows) of(i int) []uint16 { return x.ones[x.from[i]:x.ends[i]] }

// dense is pattern i written out into to, only at the returned columns; cols is
// room for them.
func (x *rows) dense(i int, to []float64, cols []int) []int {
	to[0] = 1
	cols = append(cols[:0], 0)
	for _, c := range x.of(i) {
		to[c] = 1
		cols = append(cols, int(c))
	}
	for _, s := range x.d.shapesOf(i) {
		at := &x.d.shapes[s]
		for k, v := range at.values {
			to[at.column+k] = v
			cols = append(cols, at.column+k)
		}
	}
	return cols
}

// A product is of rows with a vector, one number a column.
type product struct {
	rows
	b, shape []float64
}

func (x rows) times(b []float64) product {
	t := product{x, b, make([]float64, len(x.d.shapes))}
	for s, of := range x.d.shapes {
		t.shape[s] = floats.Dot(of.values, b[of.column:][:len(of.values)])
	}
	return t
}

// at is that of pattern i.
func (t *product) at(i int) float64 {
	sum := t.b[0]
	for _, c := range t.of(i) {
		sum += t.b[c]
	}
	for _, s := range t.d.shapesOf(i) {
		sum += t.shape[s]
	}
	return sum
}

// reach is how far off 0 an x b may be for its odds to be multiplied up; beyond, it
// is taken for so far.
const reach = 600

// odds puts exp(x b) of some patterns into out. It is the product of what each column
// and shape gives, so that there are as many exponentials as those, not as patterns,
// as long as no product can overflow.
func (x rows) odds(b []float64, patterns []int32, out []float64) {
	t := x.times(b)
	far := floats.Norm(b, 1)
	for _, of := range x.d.series {
		far += floats.Norm(t.shape[of.first:of.end], math.Inf(1))
	}
	if far >= reach {
		for _, i := range patterns {
			out[i] = math.Exp(math.Max(-reach, math.Min(reach, t.at(int(i)))))
		}
		return
	}
	t.b = make([]float64, len(b))
	for j, v := range b {
		t.b[j] = math.Exp(v)
	}
	for s, v := range t.shape {
		t.shape[s] = math.Exp(v)
	}
	for _, i := range patterns {
		o := t.b[0]
		for _, c := range t.of(int(i)) {
			o *= t.b[c]
		}
		for _, s := range t.d.shapesOf(int(i)) {
			o *= t.shape[s]
		}
		out[i] = o
	}
}

// sums are, over rows x, those of s x (the score) and of w x x' (the information,
// its lower triangle, p x p). What was added is in them once it is settled.
type sums struct {
	rows
	score, info []float64

	shapeScore []float64
	shapeInfo  []float64 // per shape, one a column: with the columns that are ones
	pairs      []pair
	pairInfo   []float64 // per pair of shapes
}

// A pair is of terms with shapes. Where in pairInfo shape s of the one and t of the
// other stand is at + s*many + t.
type pair struct{ a, b, at, many int }

func (x rows) sums() sums {
	n := len(x.d.shapes)
	s := sums{rows: x, score: make([]float64, x.p), info: make([]float64, x.p*x.p), shapeScore: make([]float64, n), shapeInfo: make([]float64, n*x.p)}
	size := 0
	for a, of := range x.d.series {
		for b, with := range x.d.series[:a] {
			many := with.end - with.first
			s.pairs = append(s.pairs, pair{a, b, size - of.first*many - with.first, many})
			size += (of.end - of.first) * many
		}
	}
	s.pairInfo = make([]float64, size)
	return s
}

// scores are sums for scores alone.
func (x rows) scores() sums {
	return sums{rows: x, score: make([]float64, x.p), shapeScore: make([]float64, len(x.d.shapes))}
}

// addScore adds s x of pattern i.
func (x *sums) addScore(i int, s float64) {
	x.score[0] += s
	for _, c := range x.of(i) {
		x.score[c] += s
	}
	for _, k := range x.d.shapesOf(i) {
		x.shapeScore[k] += s
	}
}

// settleScore takes what was added to shapes to their columns.
func (x *sums) settleScore() {
	for k, s := range x.shapeScore {
		of := &x.d.shapes[k]
		for j, v := range of.values {
			x.score[of.column+j] += s * v
		}
	}
	clear(x.shapeScore)
}

// addInformation adds w x x' of pattern i.
func (x *sums) addInformation(i int, w float64) {
	x.info[0] += w
	ones, shapes := x.of(i), x.d.shapesOf(i)
	for k, c := range ones {
		row := x.info[int(c)*x.p:]
		for _, b := range ones[:k+1] {
			row[b] += w
		}
	}
	for _, s := range shapes {
		row := x.shapeInfo[int(s)*x.p:]
		row[0] += w
		for _, c := range ones {
			row[c] += w
		}
	}
	for k := range x.pairs {
		q := &x.pairs[k]
		x.pairInfo[q.at+int(shapes[q.a])*q.many+int(shapes[q.b])] += w
	}
}

// settleInformation takes what was added to shapes to their columns, and to the
// intercept's, of which all rows have a 1.
func (x *sums) settleInformation() {
	p := x.p
	for c := 1; c < p; c++ {
		x.info[c*p] = x.info[c*p+c]
	}
	for s, of := range x.d.shapes {
		row := x.shapeInfo[s*p:][:p]
		if row[0] == 0 {
			continue
		}
		for k, v := range of.values {
			j := of.column + k
			floats.AddScaled(x.info[j*p:][:j], v, row[:j])
			for c := j + 1; c < p; c++ {
				x.info[c*p+j] += v * row[c]
			}
			floats.AddScaled(x.info[j*p+of.column:][:k+1], row[0]*v, of.values[:k+1])
		}
	}
	clear(x.shapeInfo)
	for _, q := range x.pairs {
		x.settlePair(q)
	}
	clear(x.pairInfo)
}

func (x *sums) settlePair(q pair) {
	of, with := x.d.series[q.a], x.d.series[q.b]
	for s := of.first; s < of.end; s++ {
		for t := with.first; t < with.end; t++ {
			w := x.pairInfo[q.at+s*q.many+t]
			if w == 0 {
				continue
			}
			one, other := &x.d.shapes[s], &x.d.shapes[t]
			for k, v := range one.values {
				row := x.info[(one.column+k)*x.p+other.column:]
				for l, u := range other.values {
					row[l] += w * v * u
				}
			}
		}
	}
}

// A quadratic form is x'Mx of rows, M symmetric.
type quadratic struct {
	rows
	m        []float64
	one      []float64 // per column: what a 1 there gives by itself and with the intercept
	of, with []float64 // per shape: the same; and what it gives with each column
}

func (x rows) quadratic(m []float64) quadratic {
	q := quadratic{x, m, make([]float64, x.p), make([]float64, len(x.d.shapes)), make([]float64, len(x.d.shapes)*x.p)}
	q.one[0] = m[0]
	for c := 1; c < x.p; c++ {
		q.one[c] = m[c*x.p+c] + 2*m[c*x.p]
	}
	for s, of := range x.d.shapes {
		with := q.with[s*x.p:][:x.p]
		for k, v := range of.values {
			floats.AddScaled(with, v, m[(of.column+k)*x.p:][:x.p])
		}
		q.of[s] = floats.Dot(of.values, with[of.column:][:len(of.values)]) + 2*with[0]
	}
	return q
}

// at is that of pattern i.
func (q *quadratic) at(i int) float64 {
	ones, shapes := q.rows.of(i), q.d.shapesOf(i)
	h, both := q.one[0], 0.0
	for k, c := range ones {
		h += q.one[c]
		row := q.m[int(c)*q.p:]
		for _, b := range ones[:k] {
			both += row[b]
		}
	}
	for k, s := range shapes {
		h += q.of[s]
		with := q.with[int(s)*q.p:]
		for _, c := range ones {
			both += with[c]
		}
		for _, t := range shapes[:k] {
			of := &q.d.shapes[t]
			for l, v := range of.values {
				both += v * with[of.column+l]
			}
		}
	}
	return h + 2*both
}
