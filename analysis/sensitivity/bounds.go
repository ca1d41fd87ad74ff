package sensitivity

import (
	"lastroom/analysis/remakes"
	"lastroom/analysis/stats"
)

// Bounds hold a difference whatever the forms that could not be judged were:
// Low and High are what it would be in the worst case either way, IntervalLow and
// IntervalHigh the far ends of the confidence intervals there.
type Bounds struct {
	Low          stats.Value `json:"low"`
	High         stats.Value `json:"high"`
	IntervalLow  stats.Value `json:"interval_low"`
	IntervalHigh stats.Value `json:"interval_high"`
	Level        float64     `json:"level"`
	N            int         `json:"n"`
	Method       string      `json:"method"`
	Warnings     []string    `json:"warnings"`
}

// Given reports whether the bounds could be made.
func (b Bounds) Given() bool { return b.Low.Given() && b.High.Given() }

// worstCase are the bounds of the difference of the remake shares with and
// without a fault, remade and kept orders on whose form it is not known given
// beside the table of the others. Each order put with the fault, if it was
// remade, raises the share with it and lowers that without, if it was kept, the
// other way round; so the highest difference has all remade ones with the fault
// and all kept ones without, and the lowest the reverse.
//
// Manski CF (1990) Am Econ Rev 80(2):319-323; Horowitz JL, Manski CF (1998) J
// Econometrics 84:37-58 for covariates that are missing. Held to counting every
// case in TestWorstCaseAgainstEveryCase.
func worstCase(t stats.TwoByTwo, remade, kept int) Bounds {
	const method = "worst case of the forms not judged, Newcombe hybrid score at either end"
	low := remakes.Difference(stats.TwoByTwo{A: t.A, B: t.B + kept, C: t.C + remade, D: t.D})
	high := remakes.Difference(stats.TwoByTwo{A: t.A + remade, B: t.B, C: t.C, D: t.D + kept})
	b := Bounds{Low: nan, High: nan, IntervalLow: nan, IntervalHigh: nan, Level: stats.DefaultLevel, N: t.N() + remade + kept, Method: method, Warnings: []string{}}
	for _, e := range []stats.Estimate{low, high} {
		if !e.Given() {
			b.Warnings = e.Warnings
			return b
		}
	}
	b.Low, b.High = stats.Value(low.Point), stats.Value(high.Point)
	b.IntervalLow, b.IntervalHigh = stats.Value(low.Low), stats.Value(high.High)
	return b
}
