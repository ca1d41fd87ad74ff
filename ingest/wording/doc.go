// Package wording reads what workshops write for what the order sheets have a
// word or a form for: the left foot, the ball girth, a tick, nothing at all, a
// reason for a remake, a day, a sum of money; in English, German, Spanish and
// Italian. It knows texts only, no tables.
//
//	text of a header or cell ─ ReadPlace ─▶ Place: point, height, side, clothing
//	text of a reason ─ ReadFit, Cause ─▶ zone, direction, side, cause
//	text of a day ─ ReadDay ─▶ the day, or why it is none
//	sum of money ─ PlainMoney ─▶ as order sheets have it
package wording
