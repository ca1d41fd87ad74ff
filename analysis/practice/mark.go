package practice

import (
	"fmt"
	"slices"

	"gonum.org/v1/gonum/mat"

	"lastroom/analysis/form"
	"lastroom/analysis/stats"
)

// An Answer is what a learner said of one form.
type Answer struct {
	Learner string // "" where there is one
	Form    string
	Verdict string
	Faults  []string // ids of the faults pointed at
}

// A ByFault is how one fault of the set was found.
type ByFault struct {
	Fault   string         `json:"fault"`
	Planted int            `json:"planted"` // forms answered that have it
	Found   stats.Estimate `json:"found"`   // share of those where it was pointed at
	False   stats.Estimate `json:"false"`   // share of the forms without it where it was
	Missed  bool           `json:"missed"`  // found less than the other faults are
	PValue  float64        `json:"p_value"` // Fisher's exact, one-sided, times the number of faults
	Learn   string         `json:"learn"`   // what to look for, of those missed
	found   int
	without int
	falsely int
}

// A Marking is how one learner did.
type Marking struct {
	Learner     string         `json:"learner"`
	Answered    int            `json:"answered"`
	Left        []string       `json:"left"`        // forms not answered
	Sensitivity stats.Estimate `json:"sensitivity"` // share of faulty forms that were not cut
	Specificity stats.Estimate `json:"specificity"` // share of good forms that were cut
	RightStep   stats.Estimate `json:"right_step"`  // share of faulty forms with the right one of ask and measure again
	Agreement   stats.Estimate `json:"agreement"`   // kappa of what was said (cut, ask, measure again) with what was right
	Faults      []ByFault      `json:"faults"`
	Says        string         `json:"says"`
}

const (
	// fewest forms of a kind on which a share is worth an interval: judgement.
	fewest = 5
	// alpha is the chance at which a learner who misses no fault more than others is
	// said to miss some one.
	alpha = 0.05
)

// A Seen is an answer beside the truth, as both are kept.
type Seen struct {
	Answer
	Planted []string // ids of the faults that the form has
	Right   string   // what should be said of it
}

// See puts an answer beside the truth of its form. A form that is not in the set,
// a verdict or a fault that does not exist is an error.
func (s *Set) See(a Answer) (Seen, error) {
	i := slices.IndexFunc(s.Forms, func(f Form) bool { return f.ID == a.Form })
	switch {
	case i < 0:
		return Seen{}, fmt.Errorf("the set has no form %q; are seed and number of forms those of the worksheet?", a.Form)
	case !slices.Contains(Verdicts, a.Verdict):
		return Seen{}, fmt.Errorf("form %s: %q is none of cut, ask, measure again", a.Form, a.Verdict)
	}
	for _, id := range a.Faults {
		if _, ok := form.FaultIndex(id); !ok {
			return Seen{}, fmt.Errorf("form %s: there is no fault %q", a.Form, id)
		}
	}
	seen := Seen{Answer: a, Right: s.Forms[i].Right()}
	for _, k := range s.Forms[i].faults {
		seen.Planted = append(seen.Planted, form.Faults[k].ID)
	}
	return seen, nil
}

// mark marks the answers of one learner. Forms not answered count nowhere. One
// answered twice is an error, and so is what See refuses.
func (s *Set) mark(learner string, answers []Answer) (*Marking, error) {
	var seen []Seen
	said := map[string]bool{}
	for _, a := range answers {
		if said[a.Form] {
			return nil, fmt.Errorf("form %s is answered twice", a.Form)
		}
		said[a.Form] = true
		one, err := s.See(a)
		if err != nil {
			return nil, err
		}
		seen = append(seen, one)
	}
	m := MarkSeen(learner, seen)
	for _, f := range s.Forms {
		if !said[f.ID] {
			m.Left = append(m.Left, f.ID)
		}
	}
	return m, nil
}

// MarkSeen marks what one learner said of forms of any sets.
func MarkSeen(learner string, seen []Seen) *Marking {
	m := &Marking{Learner: learner, Answered: len(seen), Faults: tally(seen)}
	var good, faulty, cut, held, right int
	verdicts := mat.NewDense(len(Verdicts), len(Verdicts), nil)
	for _, a := range seen {
		said, is := slices.Index(Verdicts, a.Verdict), slices.Index(Verdicts, a.Right)
		if said >= 0 && is >= 0 {
			verdicts.Set(said, is, verdicts.At(said, is)+1)
		}
		if len(a.Planted) == 0 {
			good++
			cut += count(a.Verdict == Cut)
		} else {
			faulty++
			held += count(a.Verdict != Cut)
			right += count(a.Verdict == a.Right)
		}
	}
	m.Sensitivity, m.Specificity, m.RightStep = share(held, faulty), share(cut, good), share(right, faulty)
	m.Agreement = stats.Kappa(verdicts, stats.DefaultLevel)
	m.byFault()
	return m
}

// tally counts by fault.
func tally(seen []Seen) []ByFault {
	out := make([]ByFault, len(form.Faults))
	for _, a := range seen {
		for k, f := range form.Faults {
			pointed := count(slices.Contains(a.Faults, f.ID))
			if slices.Contains(a.Planted, f.ID) {
				out[k].Planted++
				out[k].found += pointed
			} else {
				out[k].without++
				out[k].falsely += pointed
			}
		}
	}
	return out
}

// byFault compares how often each fault was found with how often the others were.
func (m *Marking) byFault() {
	planted, found, kinds := 0, 0, 0
	for _, b := range m.Faults {
		planted, found, kinds = planted+b.Planted, found+b.found, kinds+count(b.Planted > 0)
	}
	var missed []string
	for k := range m.Faults {
		b, fault := &m.Faults[k], form.Faults[k]
		b.Fault, b.PValue = fault.ID, 1
		b.Found, b.False = share(b.found, b.Planted), share(b.falsely, b.without)
		others := planted - b.Planted
		if b.Planted == 0 || others == 0 {
			continue
		}
		p := stats.FisherExact(stats.TwoByTwo{A: b.found, B: b.Planted - b.found, C: found - b.found, D: others - (found - b.found)}).Less
		b.PValue = min(1, p*float64(kinds))
		b.Missed = b.PValue < alpha && b.found*others < (found-b.found)*b.Planted
		if b.Missed {
			b.Learn = "A form has it when " + fault.Has + "."
			missed = append(missed, fault.Title)
		}
	}
	switch {
	case m.Answered < 2*fewest:
		m.Says = "Too few to tell: answer more forms."
	case len(missed) == 1:
		m.Says = "Missed more than the other faults: " + missed[0] + "."
	case len(missed) > 1:
		m.Says = "Missed more than the other faults: " + fmt.Sprint(missed[0], " and ", len(missed)-1, " more") + "."
	case m.Sensitivity.Given() && m.Specificity.Given() && m.Sensitivity.Low+m.Specificity.Low <= 1:
		m.Says = "Not told apart from guessing on these forms."
	default:
		m.Says = "No fault is missed more than the others, as far as these forms tell."
	}
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// share is a Wilson interval, with a warning where it rests on few.
func share(x, n int) stats.Estimate {
	e := stats.Wilson(x, n, stats.DefaultLevel)
	if n > 0 && n < fewest {
		e = e.Warn("too few to tell: look at the interval")
	}
	return e
}

// A KeyRow is one fault of a form, or that it has none.
type KeyRow struct {
	Form    string `json:"form"`
	Verdict string `json:"verdict"`
	Fault   string `json:"fault"`
	Why     string `json:"why"`
}

// Key is what is wrong with each form, why, and what to ask for.
func (s *Set) Key() (out []KeyRow) {
	for _, f := range s.Forms {
		if len(f.faults) == 0 {
			out = append(out, KeyRow{f.ID, Cut, "", "nothing is wrong with it"})
		}
		for _, t := range f.Truth() {
			out = append(out, KeyRow{f.ID, f.Right(), t.Fault.ID, t.Why})
		}
	}
	return out
}
