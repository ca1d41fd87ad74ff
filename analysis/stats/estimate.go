package stats

import (
	"encoding/json"
	"math"
)

// An Estimate is a number a person may act on: never bare, always with its
// interval, the count it rests on and the name of the method. A number that
// can't be given is an Estimate too: Point, Low and High are NaN, and a warning
// says in words what is missing.
//
// In JSON a NaN or infinite part is null, so no reader ever meets "NaN".
type Estimate struct {
	Point, Low, High float64
	Level            float64 // confidence level, as 0.95
	N                int     // observations the estimate rests on
	Method           string
	Warnings         []string
}

// Missing is the Estimate of a number that can't be given, with the reasons.
func Missing(n int, method string, why ...string) Estimate {
	nan := math.NaN()
	return Estimate{Point: nan, Low: nan, High: nan, Level: DefaultLevel, N: n, Method: method, Warnings: why}
}

// DefaultLevel is the confidence level used where none is asked for.
const DefaultLevel = 0.95

// Given reports whether the estimate has a finite point.
func (e Estimate) Given() bool { return finite(e.Point) }

// Bounded reports whether both ends of the interval are finite.
func (e Estimate) Bounded() bool { return finite(e.Low) && finite(e.High) }

// Warn returns e with further warnings.
func (e Estimate) Warn(why ...string) Estimate {
	e.Warnings = append(e.Warnings[:len(e.Warnings):len(e.Warnings)], why...)
	return e
}

// Map applies a rising function to point and interval.
func (e Estimate) Map(f func(float64) float64) Estimate {
	e.Point, e.Low, e.High = f(e.Point), f(e.Low), f(e.High)
	return e
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

type estimateJSON struct {
	Point    *float64 `json:"point"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
	Level    float64  `json:"level"`
	N        int      `json:"n"`
	Method   string   `json:"method"`
	Warnings []string `json:"warnings"`
}

// MarshalJSON writes the estimate unrounded, with null for what is not finite.
func (e Estimate) MarshalJSON() ([]byte, error) {
	w := e.Warnings
	if w == nil {
		w = []string{}
	}
	return json.Marshal(estimateJSON{Nullable(e.Point), Nullable(e.Low), Nullable(e.High), e.Level, e.N, e.Method, w})
}

// UnmarshalJSON reads what MarshalJSON wrote; null becomes NaN.
func (e *Estimate) UnmarshalJSON(b []byte) error {
	var j estimateJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	*e = Estimate{orNaN(j.Point), orNaN(j.Low), orNaN(j.High), j.Level, j.N, j.Method, j.Warnings}
	return nil
}

// Nullable is x for JSON: nil where x is NaN or infinite.
func Nullable(x float64) *float64 {
	if !finite(x) {
		return nil
	}
	return &x
}

func orNaN(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// Rounded is x with so many decimals for a sentence, halves away from zero; what would be
// written as -0 is 0.
func Rounded(x float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	if r := math.Round(x*scale) / scale; r != 0 {
		return r
	}
	return 0
}
