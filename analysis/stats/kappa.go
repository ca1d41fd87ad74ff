package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Kappa is the agreement of two raters beyond what chance alone would give, 1 where
// they always agree and 0 where as often as by chance: table counts how often the one
// chose the row and the other the column, both in the same order of k choices. The
// interval is kappa -+ z SE, within -1 and 1; where all agree the standard error is 0,
// and the lower limit is that of the share that agrees (Wilson).
//
// Without a count, or where both chose one thing alone, it is Missing. Cohen J (1960)
// Educ Psychol Meas 20:37-46; SE by Fleiss JL, Cohen J, Everitt BS (1969) Psychol Bull
// 72:323-327.
func Kappa(table mat.Matrix, level float64) Estimate {
	const method = "Cohen's kappa, normal interval (Fleiss-Cohen-Everitt)"
	k, _ := table.Dims()
	n, agree := 0.0, 0.0
	row, column := make([]float64, k), make([]float64, k)
	for i := range k {
		for j := range k {
			row[i] += table.At(i, j)
			column[j] += table.At(i, j)
			n += table.At(i, j)
		}
		agree += table.At(i, i)
	}
	count := int(n)
	chance := 0.0
	for i := range k {
		chance += row[i] * column[i] / (n * n)
	}
	switch {
	case n == 0:
		return Missing(0, method, "nothing was rated twice")
	case chance >= 1:
		return Missing(count, method, "both chose one thing alone: chance agrees as well")
	case math.IsNaN(Z(level)):
		return Missing(count, method, badLevel(level))
	}
	po := agree / n
	kappa := (po - chance) / (1 - chance)
	var variance float64
	for i := range k {
		for j := range k {
			p, marginal := table.At(i, j)/n, (row[j]+column[i])/n
			if i == j {
				d := 1 - marginal*(1-kappa)
				variance += p * d * d
			} else {
				variance += p * (1 - kappa) * (1 - kappa) * marginal * marginal
			}
		}
	}
	off := kappa - chance*(1-kappa)
	se := math.Sqrt(math.Max(variance-off*off, 0)) / ((1 - chance) * math.Sqrt(n))
	e := Estimate{Point: kappa, Low: math.Max(-1, kappa-Z(level)*se), High: math.Min(1, kappa+Z(level)*se), Level: level, N: count, Method: method}
	if agree == n {
		e.Low, e.Method = (Wilson(count, count, level).Low-chance)/(1-chance), "Cohen's kappa, Wilson's limit of the share that agrees"
	}
	return e
}
