package practice

import (
	"lastroom/analysis/stats"
)

// Own is a learner's practice beside the learner's own forms, taken after practice
// began.
type Own struct {
	Learner     string         `json:"learner"`
	Sensitivity stats.Estimate `json:"sensitivity"` // in practice, all sets
	Forms       int            `json:"forms"`
	WithFault   int            `json:"with_fault"` // noted or counted
	Share       stats.Estimate `json:"share"`
}

// Foretold says whether those who find more faults in practice take forms with
// fewer.
type Foretold struct {
	Learners []Own          `json:"learners"`
	Together stats.Estimate `json:"together"` // below 0: more found, fewer made
	Says     string         `json:"says"`
}

// How many faulty practice forms and own forms a learner needs to count, and how
// many learners a correlation needs. Judgement: with ten, the interval of a
// correlation of -0.7 just leaves out 0.
const (
	enoughForms    = 20
	enoughLearners = 10
)

// Foretell puts practice beside later forms.
func Foretell(list []Own) Foretold {
	var found, made []float64
	for i := range list {
		o := &list[i]
		o.Share = share(o.WithFault, o.Forms)
		if o.Sensitivity.N >= enoughForms && o.Forms >= enoughForms {
			found, made = append(found, o.Sensitivity.Point), append(made, o.Share.Point)
		}
	}
	f := Foretold{Learners: list}
	if len(found) < enoughLearners {
		f.Together = stats.Missing(len(found), "Spearman's rank correlation", "too few to tell: ten learners are needed who answered twenty faulty practice forms and took twenty forms of their own since")
		f.Says = "Too few to tell whether practice goes with better forms later."
		return f
	}
	f.Together = stats.Spearman(found, made, stats.DefaultLevel)
	switch {
	case f.Together.Given() && f.Together.High < 0:
		f.Says = "Those who find more faults in practice take forms with fewer of them. That does not show that practice is why."
	case f.Together.Given() && f.Together.Low > 0:
		f.Says = "Those who find more faults in practice take forms with more of them. Practice says little about their own forms here."
	default:
		f.Says = "So far practice does not tell whose own forms will be good."
	}
	return f
}
