package signs

import (
	"math"

	"lastroom/analysis/form"
)

// divisions are the parts of an inch, or of a centimetre, that numbers are
// written in.
var divisions = []float64{1, 2, 4, 5, 8, 10, 16}

// division is the coarsest that a number fits, 0 for none. Whole is an inch, else a
// centimetre.
func division(n form.Number) float64 {
	unit := 10.0
	if n.Unit == form.Inch {
		unit = form.Inch.MM()
	}
	for _, d := range divisions {
		if x := n.ValueMM / unit * d; math.Abs(x-math.Round(x)) < 1e-3*d {
			return d
		}
	}
	return 0
}

// rounding counts the whole numbers of each form and how many would be whole by chance:
// one in as many as the finest division on the form has parts, since whoever
// writes eighths read eighths. Where one side was copied, it counts once. Forms that are whole
// throughout tell nothing of single numbers.
func rounding(forms []Form) (out []valued) {
	for i, f := range forms {
		v := valued{form: i}
		finest := 1.0
		equal, pairs := pairs(f)
		for _, n := range f.Numbers {
			d := division(n)
			if d == 0 || n.Unit == form.NoUnit || n.Side == form.Right && pairs > 0 && equal == pairs {
				continue
			}
			v.n++
			if d == 1 {
				v.hits++
			}
			finest = math.Max(finest, d)
		}
		if v.n > 0 && finest > 1 {
			v.want = v.n / finest
			out = append(out, v)
		}
	}
	return out
}

// pairs counts the places that have a number on both sides, and those of them
// where both are the same.
func pairs(f Form) (equal, pairs float64) {
	left := map[form.Place]float64{}
	for _, n := range f.Numbers {
		if n.Side == form.Left {
			left[n.Place] = n.ValueMM
		}
	}
	for _, n := range f.Numbers {
		if mm, both := left[n.OtherSide()]; both && n.Side == form.Right {
			pairs++
			if math.Abs(mm-n.ValueMM) < 1e-6 {
				equal++
			}
		}
	}
	return equal, pairs
}

// alike counts the places of each form at which left and right have the same number, less
// those that would by chance: forms read as finely have that share.
func alike(forms []Form) (out []valued) {
	type class struct{ equal, pairs float64 }
	classes := map[float64]*class{}
	var of []float64
	for i, f := range forms {
		v := valued{form: i}
		v.hits, v.n = pairs(f)
		finest := 0.0
		for _, n := range f.Numbers {
			grain := 10.0
			if n.Unit == form.Inch {
				grain = form.Inch.MM()
			}
			if d := division(n); d > 0 {
				finest = math.Max(finest, math.Round(100*d/grain))
			}
		}
		if v.n > 0 {
			out, of = append(out, v), append(of, finest)
			c := classes[finest]
			if c == nil {
				c = &class{}
				classes[finest] = c
			}
			c.equal, c.pairs = c.equal+v.hits, c.pairs+v.n
		}
	}
	for k := range out {
		c := classes[of[k]]
		out[k].want = out[k].n * c.equal / c.pairs
	}
	return out
}
