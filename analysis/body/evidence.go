package body

import (
	"math"
)

// An Answer is yes, no, or not judged.
type Answer uint8

// Unjudged is never No.
const (
	Unjudged Answer = iota
	No
	Yes
)

// Value is nil, false or true, as a database column takes it.
func (a Answer) Value() any {
	switch a {
	case No:
		return false
	case Yes:
		return true
	}
	return nil
}

// Evidence is what the numbers of one form amount to, for the order book
// (table form_evidence). It is kept apart from what a clerk noted.
type Evidence struct {
	TapeZeroShown    Answer // a common shift explains the girths best
	SidesCopied      Answer // left equals right on every number, and honest sides would not
	UnitMixed        Answer // a number makes sense only in another unit
	ValueImplausible Answer // the set is unlike human feet and legs at the false-alarm share
	OutOfRange       Answer // the form-wise range limits alone

	// Score is minus the base-10 logarithm of the share of good forms (of the
	// same sex, channel, reading step and set of numbers) that look at least
	// as odd: 2 is one good form in a hundred. NaN: not judged.
	Score float64
}

// Of is the answer of a fault of the catalogue; Unjudged for those that are not
// read off the numbers.
func (e Evidence) Of(fault string) Answer {
	switch fault {
	case "tape-zero-shown":
		return e.TapeZeroShown
	case "sides-copied":
		return e.SidesCopied
	case "unit-mixed":
		return e.UnitMixed
	case "value-implausible":
		return e.ValueImplausible
	}
	return Unjudged
}

// unjudged is the evidence of a form without a number that can be judged.
var unjudged = Evidence{Score: math.NaN()}
