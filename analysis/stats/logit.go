package stats

import "math"

// Logit is log(p/(1-p)): infinite at 0 and 1, NaN outside [0,1].
func Logit(p float64) float64 { return math.Log(p / (1 - p)) }

// Logistic is 1/(1+exp(-x)), exact at both ends.
func Logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
