package training

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
	"lastroom/analysis/practice"
	"lastroom/notebooks/learners"
	"lastroom/reports/exercise"
	"lastroom/reports/page"
)

type endedPage struct {
	Learner *learners.Learner
	Round   int
	Seed    uint64
	Own     bool
	Body    template.HTML
}

// ended shows how a round went.
func (p *Pages) ended(w http.ResponseWriter, r *http.Request, l *learners.Learner, no int) error {
	round := &l.Rounds[no-1]
	body, err := blocks(exercise.Marking(practice.MarkSeen(l.Name, round.Seen)))
	if err != nil {
		return err
	}
	return p.show(w, r, "ended", "Practice: how it went", endedPage{l, no, round.Plan.Seed, round.Plan.Weights != nil, body})
}

type classPage struct {
	Seed  uint64
	Names []string
	Body  template.HTML
}

// class shows how all did who had a set by its number: what the class should look at
// together, and what is hard for all of them.
func (p *Pages) class(w http.ResponseWriter, r *http.Request) error {
	seed, err := whole(r, "seed", 0, mostSeed, "1", "Say the number of the set, a whole number up to 999999.")
	if err != nil {
		return err
	}
	all, err := p.learners.All()
	if err != nil {
		return err
	}
	v := classPage{Seed: seed}
	var marked []practice.Marking
	var together []practice.Seen
	for _, l := range all {
		for _, round := range slices.Backward(l.Rounds) { // the last time
			if round.Plan.Seed == seed && round.Plan.Weights == nil && len(round.Seen) > 0 {
				marked = append(marked, *practice.MarkSeen(l.Name, round.Seen))
				together = append(together, round.Seen...)
				v.Names = append(v.Names, l.Name)
				break
			}
		}
	}
	if len(marked) > 0 {
		body := append(exercise.Marking(practice.MarkSeen("", together)), exercise.Class(practice.FitRasch(marked)))
		if v.Body, err = blocks(body); err != nil {
			return err
		}
	}
	return p.show(w, r, "class", fmt.Sprint("Practice: set ", seed), v)
}

type learnerPage struct {
	Learner *learners.Learner
	Course  template.HTML
	Chances template.HTML
	Later   template.HTML
	Most    string // what the next set plants most of
	Sizes   []uint64
	Editor  bool
}

// learner shows one learner's course over sets.
func (p *Pages) learner(w http.ResponseWriter, r *http.Request) error {
	l, err := p.learners.Find(r.PathValue("learner"))
	if err != nil {
		return gone(err)
	}
	all, err := p.learners.All()
	if err != nil {
		return err
	}
	v := learnerPage{Learner: l, Sizes: sizes, Editor: p.editor(r)}
	var marks []exercise.Mark
	for i, one := range l.Rounds {
		if len(one.Seen) > 0 {
			marks = append(marks, exercise.Mark{Label: fmt.Sprintf("round %d, %s", i+1, one.Began.Format("2006-01-02")), Marking: practice.MarkSeen(l.Name, one.Seen)})
		}
	}
	if len(marks) > 0 {
		if v.Course, err = blocks(append(exercise.Course(marks), exercise.Marking(practice.MarkSeen(l.Name, flat(l)))...)); err != nil {
			return err
		}
		chances := learners.Outlook(all, l.Word)
		if v.Chances, err = blocks([]page.Block{exercise.Chances(chances)}); err != nil {
			return err
		}
		v.Most = most(chances)
	}
	foretold, err := p.foretell(r.Context(), all)
	if err != nil {
		return err
	}
	if v.Later, err = blocks(exercise.Later(foretold)); err != nil {
		return err
	}
	return p.show(w, r, "learner", "Practice of "+l.Name, v)
}

func flat(l *learners.Learner) (out []practice.Seen) {
	for _, round := range l.Answers() {
		out = append(out, round...)
	}
	return out
}

// most names the faults that the next set plants clearly more of, two at most; ""
// where it is a bit of everything.
func most(chances []practice.Chance) string {
	mean := 0.0
	for _, c := range chances {
		mean += c.Weight / float64(len(chances))
	}
	chances = slices.DeleteFunc(slices.Clone(chances), func(c practice.Chance) bool { return c.Weight < 1.5*mean })
	slices.SortStableFunc(chances, func(a, b practice.Chance) int { return cmp.Compare(b.Weight, a.Weight) })
	var titles []string
	for _, c := range chances[:min(2, len(chances))] {
		k, _ := form.FaultIndex(c.Fault)
		titles = append(titles, form.Faults[k].Title)
	}
	return strings.Join(titles, ", and ")
}

// foretell puts the practice of those learners whose names are measurers of the book
// beside the forms that they took since they began.
func (p *Pages) foretell(ctx context.Context, all []*learners.Learner) (practice.Foretold, error) {
	c, err := p.shop.Cohort(ctx)
	if err != nil {
		return practice.Foretold{}, err
	}
	var list []practice.Own
	if c != nil {
		for _, l := range all {
			if code := codeOf(c, l.Name); code > 0 && len(l.Answers()) > 0 {
				list = append(list, own(c, code, l))
			}
		}
	}
	return practice.Foretell(list), nil
}

// codeOf is the measurer's code in the cohort; 0, which is nobody's, for none.
func codeOf(c *cohort.Cohort, name string) int32 {
	for code, id := range c.Measurer.Levels {
		if code > 0 && strings.EqualFold(id, name) {
			return int32(code)
		}
	}
	return 0
}

// own counts a measurer's orders received after the day on which practice began,
// and those whose form, as it was cut from, has a noted or counted fault.
func own(c *cohort.Cohort, code int32, l *learners.Learner) practice.Own {
	o := practice.Own{Learner: l.Name, Sensitivity: practice.MarkSeen(l.Name, flat(l)).Sensitivity}
	since := cohort.DayOf(l.Rounds[0].Began)
	for i := range c.Len() {
		if c.Measurer.Code[i] != code || !c.Received[i].Known() || c.Received[i] <= since {
			continue
		}
		o.Forms++
		for k, f := range form.Faults {
			if f.Kind != form.Evident && c.Cut[k][i] == form.With {
				o.WithFault++
				break
			}
		}
	}
	return o
}

// forget takes a learner's file away.
func (p *Pages) forget(w http.ResponseWriter, r *http.Request) error {
	l, err := p.learners.Find(r.PathValue("learner"))
	if err == nil {
		err = p.host.Audit(r, "forget learner", "", "begun")
	}
	if err == nil {
		err = p.learners.Remove(l.Word)
	}
	if err != nil {
		return gone(err)
	}
	http.Redirect(w, r, "/practice", http.StatusSeeOther)
	return nil
}
