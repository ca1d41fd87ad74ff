package practice

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"lastroom/analysis/form"
)

// Said are one learner's answers.
type Said struct {
	Learner string
	Answers []Answer
}

// ReadAnswers reads answers as CSV, learner by learner in their order; learner is
// whose they are where there is no column of learners.
func ReadAnswers(from io.Reader, learner string) (out []Said, err error) {
	r := csv.NewReader(from)
	head, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("no first line with the columns form, verdict, faults: %w", err)
	}
	at := map[string]int{}
	for i, name := range head {
		at[strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))] = i
	}
	for _, name := range []string{"form", "verdict", "faults"} {
		if _, ok := at[name]; !ok {
			return nil, fmt.Errorf("there is no column %q", name)
		}
	}
	by := map[string]int{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		one := Answer{Learner: learner, Form: strings.TrimSpace(row[at["form"]]), Verdict: strings.ToLower(strings.TrimSpace(row[at["verdict"]]))}
		for _, fault := range strings.Fields(row[at["faults"]]) {
			if k, err := strconv.Atoi(fault); err == nil && k >= 1 && k <= len(form.Faults) { // its number on the worksheet
				fault = form.Faults[k-1].ID
			}
			one.Faults = append(one.Faults, fault)
		}
		if i, ok := at["learner"]; ok {
			one.Learner = strings.TrimSpace(row[i])
		}
		k, ok := by[one.Learner]
		if !ok {
			k = len(out)
			by[one.Learner] = k
			out = append(out, Said{Learner: one.Learner})
		}
		out[k].Answers = append(out[k].Answers, one)
	}
}

// A Class is how all learners did who answered.
type Class struct {
	Learners []Marking `json:"learners"`
	Rasch    Rasch     `json:"rasch"`
}

// MarkClass marks each learner's answers to the set.
func (s *Set) MarkClass(said []Said) (Class, error) {
	var c Class
	for _, one := range said {
		m, err := s.mark(one.Learner, one.Answers)
		if err != nil {
			return c, err
		}
		c.Learners = append(c.Learners, *m)
	}
	c.Rasch = FitRasch(c.Learners)
	return c, nil
}
