package practice

import (
	"fmt"
	"slices"

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

// Mark marks the answers of one learner. Forms not answered count nowhere. An
// answer to a form that is not in the set, one given twice, a verdict or a fault
// that does not exist is an error.
func (s *Set) Mark(learner string, answers []Answer) (*Marking, error) {
	m := &Marking{Learner: learner, Faults: make([]ByFault, len(form.Faults))}
	said := map[string]Answer{}
	for _, a := range answers {
		switch _, again := said[a.Form]; {
		case !slices.ContainsFunc(s.Forms, func(f Form) bool { return f.ID == a.Form }):
			return nil, fmt.Errorf("the set has no form %q; are seed and number of forms those of the worksheet?", a.Form)
		case again:
			return nil, fmt.Errorf("form %s is answered twice", a.Form)
		case !slices.Contains(Verdicts, a.Verdict):
			return nil, fmt.Errorf("form %s: %q is none of cut, ask, measure again", a.Form, a.Verdict)
		}
		for _, id := range a.Faults {
			if _, ok := form.FaultIndex(id); !ok {
				return nil, fmt.Errorf("form %s: there is no fault %q", a.Form, id)
			}
		}
		said[a.Form] = a
	}
	var good, faulty, cut, held, right int
	for _, f := range s.Forms {
		a, ok := said[f.ID]
		if !ok {
			m.Left = append(m.Left, f.ID)
			continue
		}
		m.Answered++
		switch {
		case len(f.faults) == 0:
			good++
			cut += count(a.Verdict == Cut)
		default:
			faulty++
			held += count(a.Verdict != Cut)
			right += count(a.Verdict == f.Right())
		}
		for k := range m.Faults {
			pointed := count(slices.Contains(a.Faults, form.Faults[k].ID))
			if slices.Contains(f.faults, k) {
				m.Faults[k].Planted++
				m.Faults[k].found += pointed
			} else {
				m.Faults[k].without++
				m.Faults[k].falsely += pointed
			}
		}
	}
	m.Sensitivity, m.Specificity, m.RightStep = share(held, faulty), share(cut, good), share(right, faulty)
	m.byFault()
	return m, nil
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
		for _, k := range f.faults {
			fault := form.Faults[k]
			why := fault.Has + ": ask for these numbers again"
			if fault.Why != "" {
				why = fault.Why
			}
			out = append(out, KeyRow{f.ID, f.Right(), fault.ID, why})
		}
	}
	return out
}
