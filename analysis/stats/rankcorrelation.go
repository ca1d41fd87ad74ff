package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Spearman is the rank correlation of pairs (ties have their middle rank), with an
// interval on Fisher's z scale whose standard error is √((1 + r²/2)/(n - 3)): Bonett
// DG, Wright TA (2000) Psychometrika 65:23-28. Fewer than four pairs, or one value
// throughout, give a Missing one.
func Spearman(x, y []float64, level float64) Estimate {
	const method = "Spearman's rank correlation, Bonett-Wright interval"
	n := len(x)
	if n < 4 || len(y) != n {
		return Missing(min(n, len(y)), method, "at least four pairs are needed")
	}
	r := stat.Correlation(midranks(x), midranks(y), nil)
	if !finite(r) {
		return Missing(n, method, "all values are the same")
	}
	e := Estimate{Point: r, Low: -1, High: 1, Level: level, N: n, Method: method}
	if z := math.Atanh(r); finite(z) {
		half := Z(level) * math.Sqrt((1+r*r/2)/float64(n-3))
		e.Low, e.High = math.Tanh(z-half), math.Tanh(z+half)
	} else {
		e = e.Warn("the ranks agree throughout: the interval says nothing")
	}
	return e
}

// midranks ranks values from 1; equal ones share the mean of their ranks.
func midranks(x []float64) []float64 {
	order, ranks := Order(x), make([]float64, len(x))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && x[order[to]] == x[order[from]] {
			to++
		}
		for _, i := range order[from:to] {
			ranks[i] = float64(from+1+to) / 2
		}
		from = to
	}
	return ranks
}

// Order is the places of values from the least to the greatest, equal ones as they
// come. No value is NaN.
func Order(x []float64) []int {
	type placed struct {
		v float64
		i int
	}
	list := make([]placed, len(x)) // values beside their places: comparing goes nowhere else
	for i, v := range x {
		list[i] = placed{v, i}
	}
	slices.SortFunc(list, func(a, b placed) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return a.i - b.i
	})
	order := make([]int, len(x))
	for k, p := range list {
		order[k] = p.i
	}
	return order
}
