package service

import (
	"net/http"
	"slices"
)

// answers are what a learner can say of a form before its outcome is shown.
var answers = []string{"cut", "ask", "measure again"}

type practicePage struct {
	Order   string // the order's word in addresses
	Answers []string
	Said    string // what the learner said; empty before
	Body    rendered
}

// practice shows a form of an old order and hides what became of it.
func (s *Server) practice(w http.ResponseWriter, r *http.Request) error {
	id, d, err := s.cfg.Workshop.Exercise(r.Context())
	if err != nil {
		return err
	}
	body, err := innerOf(d, nil)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "practice", "Practice", practicePage{Order: s.handles.Word("order", id), Answers: answers, Body: body})
	return nil
}

// practised shows what became of the order, once the learner has answered. It
// keeps nothing: practice is nobody's record.
func (s *Server) practised(w http.ResponseWriter, r *http.Request) error {
	id, ok := s.handles.ID("order", r.PostForm.Get("order"))
	said := r.PostForm.Get("answer")
	if !ok || !slices.Contains(answers, said) {
		return badRequest("Say what you would do with the form: cut, ask, or measure again.")
	}
	p, err := s.orderPage(r.Context(), id)
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "practice", "Practice", practicePage{Said: said, Body: inside(p.body)})
	return nil
}
