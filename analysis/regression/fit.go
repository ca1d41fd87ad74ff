package regression

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/regression/sparse"
	"lastroom/analysis/stats"
)

// Events for each column of a model: under fewest it is not made, under few it
// is penalised (Firth). Both are judgement; the simulation of 2,000 workshops
// (DEVELOPERS.md) shows what coverage they give.
const fewestPerColumn, fewPerColumn = 2, 5

// A Fit is the model on weighted patterns. The chance that the event of a
// subject is reported by the edge it was followed to is
//
//	F(edge) * logistic(x b),
//
// b the effects on the chance of an event by the last edge, F the share of
// events reported by an age. That is a discrete-time hazard model whose hazards
// h_k(x) = r(x) f_k / (1 - r(x) F_{k-1}) share one reporting delay: a subject
// followed to the end (F = 1) counts as in plain logistic regression, a younger
// one counts for as much as is known of it, and none is thrown away. F comes
// from the delays of the reported events alone (reportShare), so it does not
// depend on b.
//
// A subject in whom another end has come first, so that the event can't come any
// more, is one without an event and stays in for as long as it would have been
// followed: risks are then cumulative incidences with that end as a competing one
// (TestCompetingEnd).
//
// Weighting complete subjects by the inverse of their chance of being complete
// is not an alternative where entry and exposure change together with the
// calendar: that chance is 0 for all who entered lately, and the weights would
// assume that exposures are as common as ever.
type Fit struct {
	Coef  []float64
	Firth bool // penalised by Jeffreys' prior, intercept refitted

	d       *Design
	sums    sparse.Sums // score and information as of the last pass
	columns Columns
	hat     []float64 // leverages that a replicate takes in Firth's term; nil: its own
	weights Weights
	penalty []float64 // of a ridge, one a column; nil for none

	risk   []float64     // per pattern, as of the last pass
	factor sparse.Factor // of the information
	away   []bool        // columns without an estimate; nil while none is far off

	converged bool
}

// Columns say which columns of a design a model has.
type Columns struct {
	Exposures bool    // those of the exposures too, not the terms' alone
	Added     []Level // one more exposure with two columns at the end: with it, unknown; nil for none
}

// A TooFewError says that events are too few for a model.
type TooFewError struct {
	Events, Subjects float64
	Columns          int     // of the model; 0 where the outcome does not vary
	Needed           float64 // further events that the columns need
}

func (e *TooFewError) Error() string {
	if e.Columns == 0 {
		return fmt.Sprintf("the outcome does not vary: %.0f events in %.0f subjects", e.Events, e.Subjects)
	}
	return fmt.Sprintf("a model with %d columns needs about %.0f more events", e.Columns, e.Needed)
}

// errUnsettled is returned where even the penalised likelihood's maximum was
// not found.
var errUnsettled = errors.New("the model did not settle")

// farOff is where an estimate that runs away is held: odds of one in three
// million are none.
const farOff = 15

func (d *Design) newFit(c Columns, w Weights) *Fit {
	return d.fitOf(d.rows(c), c, w)
}

func (d *Design) fitOf(x sparse.Rows, c Columns, w Weights) *Fit {
	return &Fit{d: d, sums: x.Sums(), columns: c, weights: w,
		Coef: make([]float64, x.P), risk: make([]float64, d.Patterns()), factor: sparse.NewFactor(x.P)}
}

// Fit fits the model by maximum likelihood, or, where events are few or the
// data separate, by Firth's penalised likelihood. It refuses with a
// [TooFewError] or [errUnsettled]; the fit is then as far as it got. start, if
// given, is a fit to start from: of the same design with the same first columns, with
// these weights or others.
//
// Firth D (1993) Biometrika 80:27-38; Heinze G, Schemper M (2002) Stat Med
// 21:2409-2419.
func (d *Design) Fit(c Columns, w Weights, start *Fit) (*Fit, error) {
	f := d.newFit(c, w)
	x, n := w.Events(), w.total()
	if x == 0 || x == n {
		return f, &TooFewError{Events: x, Subjects: n}
	}
	f.startAt(start)
	reported := w.reported()
	if reported < float64(fewPerColumn*f.sums.P) {
		columns := f.independent()
		if need := float64(fewestPerColumn*columns) - reported; need > 0 {
			return f, &TooFewError{reported, n, columns, need}
		}
		f.Firth = reported < float64(fewPerColumn*columns)
	}
	if !f.Firth {
		f.solve(50, 50, 1e-9)
		f.Firth = !f.converged || f.separated()
	}
	if !f.Firth {
		return f, nil
	}
	if start != nil && start.away != nil { // what ran away there would be slow to come back
		start = nil
	}
	f.startAt(start)
	f.solve(200, 200, 1e-8)
	if !f.converged {
		return f, errUnsettled
	}
	f.keepLeverages()
	f.recentre()
	return f, nil
}

// startAt sets the estimates to start from, nil for those of no columns but the
// intercept.
func (f *Fit) startAt(start *Fit) {
	clear(f.Coef)
	x := f.weights.Events()
	f.Coef[0] = math.Log(x / (f.weights.total() - x))
	if start != nil {
		copy(f.Coef, start.Coef)
	}
}

// independent is the number of columns that no others make up.
func (f *Fit) independent() (columns int) {
	f.pass(true)
	f.factor.Take(f.sums.Info)
	for _, a := range f.factor.Aside {
		if !a {
			columns++
		}
	}
	return columns
}

// fork is a fit that shares the design and starts from f's estimates.
func (f *Fit) fork() *Fit {
	g := f.d.fitOf(f.sums.Rows, f.columns, f.weights)
	g.Firth, g.hat = f.Firth, f.hat
	copy(g.Coef, f.Coef)
	g.factor.Copy(f.factor)
	return g
}

// What tells that a column has no estimate, when the first one reaches farOff. The
// likelihood's tail is exponential where the data separate: each round carries the
// columns of the separating direction about 1 further, however far they are. A
// column that has a part in such a direction, but is not carried, has a standard
// error that grows without end: at noEstimate its limits are factors of 2,500
// apart (judgement; with an event and a subject without one in either arm it stays
// under 2).
const drifting, noEstimate = 0.1, 4

// lost are the columns without an estimate, told from the round's step and its
// factored information.
func (f *Fit) lost(step []float64) []bool {
	lost, variance := make([]bool, f.sums.P), f.factor.Inverse()
	for j, s := range step {
		lost[j] = math.Abs(s) > drifting || variance[j*f.sums.P+j] > noEstimate*noEstimate
	}
	return lost
}

// separated reports that an exposure's effect has no estimate: there is a
// direction, of any columns together, along which the likelihood never falls, and
// the exposure has a part in it. A term, a mended or an unknown level without an
// event may drift off alone: nobody asks for its effect, and the others do not
// follow it.
//
// Lesaffre E, Albert A (1989), Partial separation in logistic discrimination
// (jstor.org/stable/2345845), tell separation by standard errors that diverge; held
// to linear programming by TestSeparationAgainstLinearProgram.
func (f *Fit) separated() bool {
	if f.away == nil {
		return false
	}
	for _, j := range f.d.withCol {
		if j >= 0 && f.away[j] {
			return true
		}
	}
	return f.columns.Added != nil && f.away[f.sums.P-2]
}

// Risk is the fitted risk of a pattern by the last edge.
func (f *Fit) Risk(pattern int) float64 { return stats.Logistic(f.sums.Linear(pattern, f.Coef)) }

// scoreContribution is what one subject with, and one without an event give to
// the score, and what either gives to the expected information, at risk r and
// share F.
func scoreContribution(r, F float64) (with, without, info float64) {
	if F == 1 {
		return 1 - r, -r, r * (1 - r)
	}
	g := F * r * (1 - r) / (1 - F*r)
	return 1 - r, -g, g * (1 - r)
}

// pass computes score and, if asked, information at the estimates. Firth's term is in
// the score where the leverages are given.
func (f *Fit) pass(information bool) {
	clear(f.sums.Score)
	if information {
		clear(f.sums.Info)
	}
	f.sums.Odds(f.Coef, f.weights.counting, f.risk)
	for _, pattern := range f.weights.counting {
		i := int(pattern)
		n0, n1, odds := f.weights.Slot[2*i], f.weights.Slot[2*i+1], f.risk[i]
		r, F := odds/(1+odds), f.share(i)
		f.risk[i] = r
		a, b, w := scoreContribution(r, F)
		s := n1*a + n0*b
		if f.hat != nil {
			s += (n0 + n1) * f.hat[i] * firthSlope(r, F)
		}
		f.sums.AddScore(i, s)
		if information {
			f.sums.AddInformation(i, w*(n0+n1))
		}
	}
	f.sums.SettleScore()
	if information {
		f.sums.SettleInformation()
	}
	f.penalise(information)
}

// share is the share of events reported by the edge pattern i was followed to.
func (f *Fit) share(i int) float64 { return f.weights.Share[f.d.age[i]] }

// smallStep is a step after which the information has hardly changed: the next
// ones taken with the former reach nearly as far, for half the work.
const smallStep = 0.02

// closeBy is a step after which estimates are as near as a replicate needs them, and
// from which on steps learn from each other (secant).
const closeBy = 3e-3

// solve runs Fisher scoring from the estimates until no step is larger than
// tol, at most rounds times. refresh says in how many of the first rounds the
// information is computed anew. Firth's term rests on the information, so for
// it that is never left out.
func (f *Fit) solve(rounds, refresh int, tol float64) {
	f.converged = false
	moved := math.Inf(1)
	last := secant{held: sparse.NewFactor(f.sums.P)}
	for r := range rounds {
		anew := r < refresh && (f.Firth || moved > smallStep)
		f.pass(anew)
		if anew {
			f.factor.Take(f.sums.Info)
		}
		if f.Firth && f.hat == nil {
			f.jeffreys()
		}
		if anew && len(last.steps) == 0 {
			last.held.Copy(f.factor)
		}
		step := last.next(f.sums.Score)
		largest := 0.0
		for _, s := range step {
			largest = math.Max(largest, math.Abs(s))
		}
		scale, whole := 1.0, true
		if largest > 2 {
			scale, whole = 2/largest, false
		}
		moved = 0
		for j := range step {
			b := math.Max(-farOff, math.Min(farOff, f.Coef[j]+scale*step[j]))
			moved = math.Max(moved, math.Abs(b-f.Coef[j]))
			f.Coef[j] = b
			if math.Abs(b) < farOff {
				continue
			}
			whole = false
			if f.away == nil && !f.Firth {
				f.away = f.lost(step)
			}
		}
		if moved < tol {
			f.converged = true
			return
		}
		last.steps = append(last.steps, step)
		if moved > closeBy || !whole { // too far to tell the slope, or cut short
			last.steps = nil
		}
	}
}

// A secant takes steps with an information that is held. Each step bends the next
// ones by what it has shown of the score's slope, which makes up for what the held
// information is off.
//
// Broyden's method with the steps kept: Kelley CT (1995) Iterative Methods for Linear
// and Nonlinear Equations, SIAM, algorithm brsol.
type secant struct {
	held  sparse.Factor
	steps [][]float64
}

// next is the step at a score.
func (s *secant) next(score []float64) []float64 {
	z := s.held.Solve(score)
	for k, before := range s.steps {
		// A step that hardly got nearer than the one before it is not drawn out further
		// than tenfold.
		by := math.Min(0.9, floats.Dot(before, z)/floats.Dot(before, before))
		if k+1 < len(s.steps) {
			floats.AddScaled(z, by, s.steps[k+1])
		} else {
			floats.Scale(1/(1-by), z)
		}
	}
	return z
}
