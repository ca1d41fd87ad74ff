package page

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/stats"
)

// TooFew stands in a cell whose number is not given; the reasons stand in the
// notes of its table (see Refusals).
const TooFew = "too few to tell"

// Text is a cell of words.
func Text(s string) Cell { return Cell{Text: s, Value: s} }

// AsIs is a cell of an id, a name, a file or what a person wrote.
func AsIs(s string) Cell { return Cell{Text: s, Value: s, AsIs: true} }

// Count is a cell that holds a whole number, written with thousands marks.
func Count(n int) Cell { return Cell{Text: Thousands(n), Value: n} }

// CountOf is Count with the orders or forms behind it.
func CountOf(n int, r Ref) Cell {
	c := Count(n)
	c.Ref = r
	return c
}

// YesNo is an answer.
func YesNo(b bool) Cell {
	if b {
		return Cell{Text: "yes", Value: true}
	}
	return Cell{Text: "no", Value: false}
}

// Date is a cell of a day; NoDay is empty.
func Date(d cohort.Day) Cell { return Cell{Text: d.String(), Value: d} }

// Number is a cell of a plain number with the given decimals. NaN and infinite
// values are an empty cell.
func Number(x float64, decimals int) Cell {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return Cell{}
	}
	return Cell{Text: Fixed(x, decimals), Value: x}
}

// Percent shows a share (0 to 1) in per cent with its interval. The CSV and
// JSON value stays the share.
func Percent(e stats.Estimate) Cell { return Cell{Text: said(e, 100, 1, TooFew), Value: e} }

// Plain shows an estimate as it stands, with the given decimals.
func Plain(e stats.Estimate, decimals int) Cell {
	return Cell{Text: said(e, 1, decimals, TooFew), Value: e}
}

// Scaled shows scale times an estimate, as differences per 100 orders.
func Scaled(e stats.Estimate, scale float64, decimals int) Cell {
	return Cell{Text: said(e, scale, decimals, TooFew), Value: e}
}

// InWords says an estimate inside a sentence: "8.0 % (95 % interval 5.0 to
// 12.0, n 812)". One that is not given says why.
func InWords(e stats.Estimate, scale float64, decimals int, unit string) string {
	if !e.Given() {
		if len(e.Warnings) > 0 {
			return "not given: " + strings.Join(e.Warnings, "; ")
		}
		return TooFew
	}
	var b strings.Builder
	b.WriteString(Fixed(e.Point*scale, decimals) + unit + " (")
	if e.Bounded() {
		b.WriteString(Fixed(e.Level*100, 0) + " % interval " + Fixed(e.Low*scale, decimals) +
			" to " + Fixed(e.High*scale, decimals) + ", ")
	}
	b.WriteString("n " + Thousands(e.N) + ")")
	return minus(b.String())
}

func said(e stats.Estimate, scale float64, decimals int, missing string) string {
	if !e.Given() {
		return missing
	}
	s := Fixed(e.Point*scale, decimals)
	if e.Bounded() {
		s += " (" + Fixed(e.Low*scale, decimals) + " to " + Fixed(e.High*scale, decimals) + ")"
	}
	return s
}

// Fixed writes x with the given decimals, thousands marked, never "-0".
func Fixed(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	whole, frac, _ := strings.Cut(s, ".")
	s = grouped(whole)
	if frac != "" {
		s += "." + frac
	}
	if x < 0 && strings.Trim(s, "0.,") != "" {
		s = "-" + s
	}
	return s
}

// Thousands writes n with a comma at each thousand.
func Thousands(n int) string {
	if n < 0 {
		return "-" + grouped(strconv.FormatUint(uint64(-int64(n)), 10))
	}
	return grouped(strconv.Itoa(n))
}

func grouped(digits string) string {
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	return digits
}

// Counted is a number with its noun.
func Counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Thousands(n) + " " + many
}

// IsAre is the verb of so many.
func IsAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// Share shows a share in per cent; its value stays the share.
func Share(x float64) Cell {
	c := Number(100*x, 1)
	if c.Value != nil {
		c.Value = x
	}
	return c
}

// Refusals say why estimates of a table are not given: each reason once, with
// the rows (by their first cell) it is for, in the order in which they stand.
func Refusals(rows [][]Cell) []string {
	var reasons []string
	labels := map[string][]string{}
	for _, row := range rows {
		for _, c := range row {
			e, ok := c.Value.(stats.Estimate)
			if !ok || e.Given() {
				continue
			}
			for _, w := range e.Warnings {
				if labels[w] == nil {
					reasons = append(reasons, w)
				}
				if label := row[0].Text; !slices.Contains(labels[w], label) {
					labels[w] = append(labels[w], label)
				}
			}
		}
	}
	out := make([]string, len(reasons))
	for i, w := range reasons {
		out[i] = w + " (" + some(labels[w]) + ")"
	}
	return out
}
