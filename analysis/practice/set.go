// Package practice makes forms to practise on and marks what a learner says.
//
//  1. A Plan's Set draws good forms from human proportions (package human), with
//     the errors of an honest measurer, and plants faults of the catalogue in some
//     (deal, plant), those that a learner misses more often than others where the
//     plan says so. Tracings are drawn as a pencil leaves them (trace). A seed gives
//     a whole class the same Set, in inches or centimetres. Practice only: nobody's
//     body.
//  2. A learner says of each form cut, ask or measure again, and points at faults.
//     Then the form's Truth is shown.
//  3. Mark compares that with the truth: sensitivity, specificity, and by fault.
//  4. FitRasch tells able learners from easy faults where several have answered;
//     Outlook gives one learner's chances by fault, of which the next set is made.
//
// How many forms are good, and how many faults a form has, is judgement: real
// forms have fewer, and a learner would meet a fault once in a hundred forms.
package practice

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"

	"lastroom/analysis/body/human"
	"lastroom/analysis/form"
)

// What a learner can say of a form, mildest first.
const (
	Cut          = "cut"
	Ask          = "ask"
	MeasureAgain = "measure again"
)

// Verdicts are all of them.
var Verdicts = []string{Cut, Ask, MeasureAgain}

// A Boot is what was ordered.
type Boot struct {
	ShaftMM  float64 `json:"shaft_mm"`
	Tucked   bool    `json:"worn_tucked"`
	Orthotic bool    `json:"orthotic"`
}

// A Noted is a mark as a person would see it on the paper.
type Noted struct {
	Mark string `json:"mark"`
	Is   string `json:"is"` // yes or no
	of   form.Mark
}

// A Form is one to practise on. Its truth is not in its JSON.
type Form struct {
	ID      string        `json:"form"`
	Unit    form.Unit     `json:"unit"` // of all that is written on it
	Boot    Boot          `json:"boot"`
	Numbers []form.Number `json:"numbers"`
	Marks   []Noted       `json:"marks"`
	// Tracings are the left and the right foot's; in the JSON the marks tell of them.
	Tracings []Tracing `json:"-"`
	faults   []int     // into form.Faults, rising
	places   map[string][]form.Place
	circles  []Circle
}

// A Set is the forms of one round.
type Set struct {
	Seed  uint64 `json:"seed"`
	Forms []Form `json:"forms"`
}

const (
	goodShare   = 0.3 // of the forms
	mostFaults  = 2   // on a form
	tuckedShare = 0.3 // of the boots that need not be
)

// A Plan says which set is made.
type Plan struct {
	Seed  uint64 `json:"seed"`
	Forms int    `json:"forms"`
	// Unit is what the forms are written in; sets that were kept before there was a
	// choice have none, and are in inches.
	Unit form.Unit `json:"unit,omitempty"`
	// Weights say how often each fault is planted, in parts of one another; nil is
	// all alike, as a class has them.
	Weights map[string]float64 `json:"weights,omitempty"`
}

// MostForms is how many forms a set may have.
const MostForms = 1000

// Set makes the forms of the plan. Where all faults are alike each is planted
// twice before any is a third time, so a round of 20 shows each of the catalogue
// twice; else each at least once, as far as there are forms. In another unit the
// same seed gives the same people, with the same faults at the same places.
func (p Plan) Set() (*Set, error) {
	if p.Forms < 1 || p.Forms > MostForms {
		return nil, fmt.Errorf("a set has 1 to %d forms, not %d", MostForms, p.Forms)
	}
	r := rand.New(rand.NewPCG(p.Seed, 15))
	s := &Set{Seed: p.Seed}
	unit := cmp.Or(p.Unit, form.Inch)
	for i, planted := range deal(r, p.Forms, p.pack) {
		f, err := draw(r, unit, planted)
		if err != nil {
			return nil, err
		}
		f.ID = fmt.Sprintf("P%02d", i+1)
		f.trace(rand.New(rand.NewPCG(p.Seed, uint64(1000+i))))
		s.Forms = append(s.Forms, f)
	}
	return s, nil
}

// pack is a shuffled pack of faults, enough for so many plantings where they are
// weighted.
func (p Plan) pack(r *rand.Rand, plantings int) (out []int) {
	for k, n := range p.shares(plantings) {
		for range n {
			out = append(out, k)
		}
	}
	r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// shares are how often each fault is planted: once where all are alike, or there are
// no more plantings than faults; else by largest remainders, one of each before
// weights count.
func (p Plan) shares(plantings int) []int {
	n := len(form.Faults)
	out, owed, total := make([]int, n), make([]float64, n), 0.0
	for k, f := range form.Faults {
		out[k] = 1
		total += max(p.Weights[f.ID], 0)
	}
	if total == 0 || plantings <= n {
		return out
	}
	left := plantings - n
	for k, f := range form.Faults {
		share := max(p.Weights[f.ID], 0) / total * float64(plantings-n)
		out[k] += int(share)
		owed[k] = share - math.Floor(share)
		left -= int(share)
	}
	for range left {
		k := floats.MaxIdx(owed)
		out[k], owed[k] = out[k]+1, -1
	}
	return out
}

// Times are how often each fault is in the set, by its place in the catalogue, where
// there is a form for each.
func (p Plan) Times() []int { return p.shares(mostFaults * faulty(p.Forms)) }

// faulty is how many of n forms have a fault.
func faulty(n int) int { return n - int(math.Round(goodShare*float64(n))) }

// deal says which faults each form has. Faults are dealt from a shuffled pack,
// a fresh one when it is used up; two that are both read off the numbers' values
// would hide each other, so a form has one of those at most.
func deal(r *rand.Rand, n int, fresh func(r *rand.Rand, plantings int) []int) [][]int {
	forms := make([][]int, n)
	faulty := faulty(n)
	var pack []int
	for range mostFaults {
		for i := range faulty {
			if len(pack) < 1 {
				pack = fresh(r, mostFaults*faulty)
			}
			at := slices.IndexFunc(pack, func(k int) bool { return fits(forms[i], k) })
			if at >= 0 {
				forms[i] = append(forms[i], pack[at])
				pack = slices.Delete(pack, at, at+1)
			}
		}
	}
	for i := range forms {
		slices.Sort(forms[i])
	}
	r.Shuffle(n, func(i, j int) { forms[i], forms[j] = forms[j], forms[i] })
	return forms
}

func fits(has []int, k int) bool {
	for _, other := range has {
		if other == k || form.Faults[other].Kind == form.Evident && form.Faults[k].Kind == form.Evident {
			return false
		}
	}
	return true
}

// draw makes one form with these faults.
func draw(r *rand.Rand, unit form.Unit, planted []int) (Form, error) {
	f := Form{Unit: unit, faults: planted, places: map[string][]form.Place{}}
	heights := 2 + r.IntN(4)
	f.Boot.ShaftMM = form.DefaultScheme.FirstMM + float64(heights-1)*form.DefaultScheme.StepMM + 25.4
	f.Boot.Tucked, f.Boot.Orthotic = r.Float64() < tuckedShare, r.Float64() < tuckedShare
	for _, k := range planted {
		f.Boot.Tucked = f.Boot.Tucked || form.Faults[k].AtRisk == form.WornTucked
		f.Boot.Orthotic = f.Boot.Orthotic || form.Faults[k].AtRisk == form.WithOrthotic
	}
	d := human.Drawing{Channel: form.Dealer, Tucked: f.Boot.Tucked, Unit: unit, Step: unit.Step()}
	for _, h := range form.DefaultScheme.Heights(f.Boot.ShaftMM) {
		d.Heights = append(d.Heights, float64(h))
	}
	good, err := human.Draw(r, d)
	if err != nil {
		return f, err
	}
	f.Numbers = good.Numbers
	for _, m := range form.Marks {
		k, _ := form.FaultIndex(m.Fault)
		if form.Faults[k].AtRisk != form.WithOrthotic || f.Boot.Orthotic {
			f.Marks = append(f.Marks, Noted{Mark: m.Label, Is: yesNo(!m.Yes), of: m})
		}
	}
	for _, k := range planted {
		f.plant(r, form.Faults[k])
	}
	slices.SortStableFunc(f.Numbers, func(a, b form.Number) int { return form.ComparePlaces(a.Place, b.Place) })
	for i := range f.Numbers {
		n := &f.Numbers[i]
		if n.HeightMM > 0 {
			n.HeightWritten = unit.Text(float64(n.HeightMM))
		}
		if n.Written == "" { // else as change wrote it
			n.Written = unit.Text(n.ValueMM)
		}
	}
	return f, nil
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// Right is what should be said of the form: a fault that a question settles
// asks for an answer, any other for the tape or the pencil again.
func (f *Form) Right() string {
	right := Cut
	for _, k := range f.faults {
		if form.Faults[k].Asks != form.Answer {
			return MeasureAgain
		}
		right = Ask
	}
	return right
}

// Column is the mark's column of the forms sheet.
func (n Noted) Column() string { return n.of.Column }

// Drawn reports whether the tracing shows the mark.
func (n Noted) Drawn() bool { return OnTracing(n.of.Fault) }

// OnTracing reports whether a fault shows on the tracing.
func OnTracing(fault string) bool {
	return slices.Contains([]string{"tape-marks-missing", "outline-broken", "outline-doubled"}, fault)
}
