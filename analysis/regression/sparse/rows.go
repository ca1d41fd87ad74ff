// Package sparse is the matrix of a regression, and what is worked out with it.
//
//  1. [Rows] are the matrix: most entries of a row are ones, of columns that say that
//     a subject has something, and are kept by column. The columns of a term that holds
//     other values, a curve or a place in time, are kept together: such a term has a few
//     shapes, and a row one of them. What rows are multiplied with is multiplied with
//     each shape once, and what is added up over rows is added up by shape first.
//  2. [Rows.Times] is a [Product] with a vector, [Rows.Odds] its exponentials, and
//     [Rows.Quadratic] a form x'Mx.
//  3. [Sums] are weighted sums of rows x and of x x', as a score and an information.
//  4. [Factor] solves with such a matrix, and sets aside columns that others make up.
//
// Rows, products and forms may be read by several at once; sums and factors may not. It stands
// on gonum's floats; mat has no matrix of this kind, and dense ones take several times as long.
package sparse

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// A Shape is the values of a term's columns for one of its codes.
type Shape struct {
	Column int // the term's first
	Values []float64
}

// A Series is the shapes of one term, from First to before End.
type Series struct{ First, End int }

// Rows are the rows of a matrix. The first column is the intercept's, of which all
// have a 1.
type Rows struct {
	P int // columns
	// Columns with a 1, ascending, but for the intercept: per row those from From to
	// Ends.
	Ones       []uint16
	From, Ends []int32
	Shapes     []Shape
	Series     []Series // one a term that has shapes
	Shape      []int32  // per row and series, into Shapes
}

// Of are the columns in which row i has a 1.
func (x *Rows) Of(i int) []uint16 { return x.Ones[x.From[i]:x.Ends[i]] }

// ShapesOf are the numbers of the shapes of row i.
func (x *Rows) ShapesOf(i int) []int32 {
	n := len(x.Series)
	return x.Shape[i*n : (i+1)*n]
}

// Linear is row i times b alone; of many rows it is [Rows.Times].
func (x *Rows) Linear(i int, b []float64) float64 {
	eta := b[0]
	for _, c := range x.Of(i) {
		eta += b[c]
	}
	for _, s := range x.ShapesOf(i) {
		of := &x.Shapes[s]
		eta += floats.Dot(of.Values, b[of.Column:][:len(of.Values)])
	}
	return eta
}

// Dense is row i written out into to, only at the returned columns; cols is
// room for them.
func (x *Rows) Dense(i int, to []float64, cols []int) []int {
	to[0] = 1
	cols = append(cols[:0], 0)
	for _, c := range x.Of(i) {
		to[c] = 1
		cols = append(cols, int(c))
	}
	for _, s := range x.ShapesOf(i) {
		at := &x.Shapes[s]
		for k, v := range at.Values {
			to[at.Column+k] = v
			cols = append(cols, at.Column+k)
		}
	}
	return cols
}

// A Product is of rows with a vector, one number a column.
type Product struct {
	Rows
	b, shape []float64
}

// Times multiplies the rows with b.
func (x Rows) Times(b []float64) Product {
	t := Product{x, b, make([]float64, len(x.Shapes))}
	for s, of := range x.Shapes {
		t.shape[s] = floats.Dot(of.Values, b[of.Column:][:len(of.Values)])
	}
	return t
}

// At is that of row i.
func (t *Product) At(i int) float64 {
	sum := t.b[0]
	for _, c := range t.Of(i) {
		sum += t.b[c]
	}
	for _, s := range t.ShapesOf(i) {
		sum += t.shape[s]
	}
	return sum
}

// Reach is how far off 0 an x b may be for its odds to be multiplied up; beyond, it
// is taken for so far.
const Reach = 600

// Odds puts exp(x b) of some rows into out. It is the product of what each column
// and shape gives, so that there are as many exponentials as those, not as patterns,
// as long as no product can overflow.
func (x Rows) Odds(b []float64, rows []int32, out []float64) {
	t := x.Times(b)
	far := floats.Norm(b, 1)
	for _, of := range x.Series {
		far += floats.Norm(t.shape[of.First:of.End], math.Inf(1))
	}
	if far >= Reach {
		for _, i := range rows {
			out[i] = math.Exp(math.Max(-Reach, math.Min(Reach, t.At(int(i)))))
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
	for _, i := range rows {
		o := t.b[0]
		for _, c := range t.Of(int(i)) {
			o *= t.b[c]
		}
		for _, s := range t.ShapesOf(int(i)) {
			o *= t.shape[s]
		}
		out[i] = o
	}
}

// A Quadratic form is x'Mx of rows, M symmetric.
type Quadratic struct {
	Rows
	m        []float64
	one      []float64 // per column: what a 1 there gives by itself and with the intercept
	of, with []float64 // per shape: the same; and what it gives with each column
}

// Quadratic makes the form of m, of which the upper triangle is looked at too.
func (x Rows) Quadratic(m []float64) Quadratic {
	q := Quadratic{x, m, make([]float64, x.P), make([]float64, len(x.Shapes)), make([]float64, len(x.Shapes)*x.P)}
	q.one[0] = m[0]
	for c := 1; c < x.P; c++ {
		q.one[c] = m[c*x.P+c] + 2*m[c*x.P]
	}
	for s, of := range x.Shapes {
		with := q.with[s*x.P:][:x.P]
		for k, v := range of.Values {
			floats.AddScaled(with, v, m[(of.Column+k)*x.P:][:x.P])
		}
		q.of[s] = floats.Dot(of.Values, with[of.Column:][:len(of.Values)]) + 2*with[0]
	}
	return q
}

// At is that of row i.
func (q *Quadratic) At(i int) float64 {
	ones, shapes := q.Of(i), q.ShapesOf(i)
	h, both := q.one[0], 0.0
	for k, c := range ones {
		h += q.one[c]
		row := q.m[int(c)*q.P:]
		for _, b := range ones[:k] {
			both += row[b]
		}
	}
	for k, s := range shapes {
		h += q.of[s]
		with := q.with[int(s)*q.P:]
		for _, c := range ones {
			both += with[c]
		}
		for _, t := range shapes[:k] {
			of := &q.Shapes[t]
			for l, v := range of.Values {
				both += v * with[of.Column+l]
			}
		}
	}
	return h + 2*both
}
