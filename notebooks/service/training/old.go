package training

import (
	"html/template"
	"net/http"
	"slices"

	"lastroom/analysis/practice"
	"lastroom/notebooks/service/topic"
)

type oldPage struct {
	Order   string // the order's word in addresses
	Answers []string
	Said    string // what the learner said; empty before
	Shop    string // what the shop did
	Same    bool   // as the learner said
	Body    template.HTML
}

// old shows a form of an old order and hides what became of it.
func (p *Pages) old(w http.ResponseWriter, r *http.Request) error {
	order, body, err := p.shop.OldForm(r.Context())
	if err != nil {
		return err
	}
	return p.show(w, r, "old", "Practice on old forms", oldPage{Order: order, Answers: practice.Verdicts, Body: body})
}

// oldAnswered shows what the shop did with the form, which is the answer, and what
// became of the order, once the learner has answered. It keeps nothing: an outcome
// is luck too, and makes nobody's record.
func (p *Pages) oldAnswered(w http.ResponseWriter, r *http.Request) error {
	said := r.PostForm.Get("answer")
	if r.PostForm.Get("order") == "" || !slices.Contains(practice.Verdicts, said) {
		return topic.BadRequest("Say what you would do with the form: cut, ask, or measure again.")
	}
	id, body, err := p.shop.OldOutcome(r.Context(), r.PostForm.Get("order"))
	if err != nil {
		return err
	}
	v := oldPage{Said: said, Body: body}
	c, err := p.shop.Cohort(r.Context())
	if err != nil {
		return err
	}
	if c != nil {
		if i := slices.Index(c.OrderID, id); i >= 0 {
			switch {
			case c.CutNo[i] > 1:
				v.Shop, v.Same = "It did not cut from this form: it called back and cut from a later one.", said != practice.Cut
			case c.CalledBack[i]:
				v.Shop, v.Same = "It called back about this form before it cut.", said != practice.Cut
			case c.CutNo[i] == 1:
				v.Shop, v.Same = "It cut from this form as it came.", said == practice.Cut
			}
		}
	}
	return p.show(w, r, "old", "Practice on old forms", v)
}
