package body

// A Reading is one number of a form judged by all the others.
type Reading struct {
	Number
	Judged     bool    // false: nothing published to judge it by; the rest is NaN
	Expected   float64 // given all the other numbers, mm
	Low, High  float64 // 95 % interval of the reading, mm
	Tail       float64 // chance of a reading at least as far off, two-sided
	Percentile float64 // 0-100 among people of that sex, on the published range
}

// A Change is what a number would have been under an explanation.
type Change struct {
	Index int     // into Check.Readings
	MM    float64 // the number it would have been; NaN: not to be told
}

// An Explanation is one way the numbers may have come about.
type Explanation struct {
	ID      string  // stable: tape-start, one-inch, digits, unit, exchanged, copied, …
	Words   string  // one plain sentence
	Share   float64 // posterior share; all explanations and "nothing wrong" sum to 1
	Changes []Change
}

// A Check is all that is known of one form's numbers.
type Check struct {
	FormID string
	Evidence
	Alarm       bool
	FalseAlarms float64 // the share that Alarm was set to
	NothingOff  float64 // posterior share of "nothing wrong"
	Readings    []Reading
	// Explanations are ordered by share, those under one in a thousand left out.
	Explanations []Explanation
	Notes        []string // what could not be judged, and why
	Cautions     []string
}

// Check judges one form in full at the given false-alarm share (0: DefaultFalseAlarms).
func (m *Model) Check(f Form, falseAlarms float64) *Check {
	return &Check{FormID: f.ID, Evidence: unjudged, FalseAlarms: falseAlarms}
}
