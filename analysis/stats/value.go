package stats

import "encoding/json"

// A Value is a plain number that may be missing (NaN); in JSON it is then null.
// It is for p values, chart values and the like; a number a person acts on is
// an [Estimate].
type Value float64

// Given reports whether the value is finite.
func (v Value) Given() bool { return finite(float64(v)) }

// MarshalJSON writes the value unrounded, or null.
func (v Value) MarshalJSON() ([]byte, error) { return json.Marshal(Nullable(float64(v))) }

// UnmarshalJSON reads what MarshalJSON wrote; null becomes NaN.
func (v *Value) UnmarshalJSON(b []byte) error {
	var x *float64
	if err := json.Unmarshal(b, &x); err != nil {
		return err
	}
	*v = Value(orNaN(x))
	return nil
}
