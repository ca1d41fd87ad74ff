package sparse

import "gonum.org/v1/gonum/floats"

// Sums are, over rows x, those of s x (the score) and of w x x' (the information,
// its lower triangle, p x p). What was added is in them once it is settled.
type Sums struct {
	Rows
	Score, Info []float64

	shapeScore []float64
	shapeInfo  []float64 // per shape, one a column: with the columns that are ones
	pairs      []pair
	pairInfo   []float64 // per pair of shapes
}

// A pair is of terms with shapes. Where in pairInfo shape s of the one and t of the
// other stand is at + s*many + t.
type pair struct{ a, b, at, many int }

// Sums are empty sums for both.
func (x Rows) Sums() Sums {
	n := len(x.Shapes)
	s := Sums{Rows: x, Score: make([]float64, x.P), Info: make([]float64, x.P*x.P), shapeScore: make([]float64, n), shapeInfo: make([]float64, n*x.P)}
	size := 0
	for a, of := range x.Series {
		for b, with := range x.Series[:a] {
			many := with.End - with.First
			s.pairs = append(s.pairs, pair{a, b, size - of.First*many - with.First, many})
			size += (of.End - of.First) * many
		}
	}
	s.pairInfo = make([]float64, size)
	return s
}

// Scores are empty sums for scores alone.
func (x Rows) Scores() Sums {
	return Sums{Rows: x, Score: make([]float64, x.P), shapeScore: make([]float64, len(x.Shapes))}
}

// AddScore adds s x of row i.
func (x *Sums) AddScore(i int, s float64) {
	x.Score[0] += s
	for _, c := range x.Of(i) {
		x.Score[c] += s
	}
	for _, k := range x.ShapesOf(i) {
		x.shapeScore[k] += s
	}
}

// SettleScore takes what was added to shapes to their columns.
func (x *Sums) SettleScore() {
	for k, s := range x.shapeScore {
		of := &x.Shapes[k]
		for j, v := range of.Values {
			x.Score[of.Column+j] += s * v
		}
	}
	clear(x.shapeScore)
}

// AddInformation adds w x x' of row i.
func (x *Sums) AddInformation(i int, w float64) {
	x.Info[0] += w
	ones, shapes := x.Of(i), x.ShapesOf(i)
	for k, c := range ones {
		row := x.Info[int(c)*x.P:]
		for _, b := range ones[:k+1] {
			row[b] += w
		}
	}
	for _, s := range shapes {
		row := x.shapeInfo[int(s)*x.P:]
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

// SettleInformation takes what was added to shapes to their columns, and to the
// intercept's, of which all rows have a 1.
func (x *Sums) SettleInformation() {
	p := x.P
	for c := 1; c < p; c++ {
		x.Info[c*p] = x.Info[c*p+c]
	}
	for s, of := range x.Shapes {
		row := x.shapeInfo[s*p:][:p]
		if row[0] == 0 {
			continue
		}
		for k, v := range of.Values {
			j := of.Column + k
			floats.AddScaled(x.Info[j*p:][:j], v, row[:j])
			for c := j + 1; c < p; c++ {
				x.Info[c*p+j] += v * row[c]
			}
			floats.AddScaled(x.Info[j*p+of.Column:][:k+1], row[0]*v, of.Values[:k+1])
		}
	}
	clear(x.shapeInfo)
	for _, q := range x.pairs {
		x.settlePair(q)
	}
	clear(x.pairInfo)
}

func (x *Sums) settlePair(q pair) {
	of, with := x.Series[q.a], x.Series[q.b]
	for s := of.First; s < of.End; s++ {
		for t := with.First; t < with.End; t++ {
			w := x.pairInfo[q.at+s*q.many+t]
			if w == 0 {
				continue
			}
			one, other := &x.Shapes[s], &x.Shapes[t]
			for k, v := range one.Values {
				row := x.Info[(one.Column+k)*x.P+other.Column:]
				for l, u := range other.Values {
					row[l] += w * v * u
				}
			}
		}
	}
}
