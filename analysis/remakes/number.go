package remakes

import (
	"encoding/json"

	"lastroom/analysis/stats"
)

// A Number is a plain number that may be missing (NaN); in JSON it is then
// null. It is for p values, chart values and the like; a number a person acts
// on is a stats.Estimate.
type Number float64

// Given reports whether the number is finite.
func (n Number) Given() bool { return stats.Nullable(float64(n)) != nil }

// MarshalJSON writes the number unrounded, or null.
func (n Number) MarshalJSON() ([]byte, error) { return json.Marshal(stats.Nullable(float64(n))) }
