package workshop

import (
	"errors"
	"fmt"
	"os"
	"time"

	"lastroom/analysis/nearest"
	"lastroom/analysis/practice"
	"lastroom/ingest/bookfile"
	"lastroom/notebooks/learners"
)

// Learners are the learners beside a book.
type Learners struct {
	root  *os.Root
	store *learners.Store
}

// OpenLearners opens those of a book, which must be there.
func OpenLearners(book string) (*Learners, error) {
	if err := NeedBook(book); err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(bookfile.FilesOf(book).Dir)
	if err != nil {
		return nil, BadInput(err)
	}
	return &Learners{root, learners.NewStore(root, time.Now)}, nil
}

// Close gives their folder back.
func (k *Learners) Close() error { return k.root.Close() }

// PlanOf is the next set of a learner. One who is not there yet may only be given
// answers to keep.
func (k *Learners) PlanOf(name string, forms int, mayBegin bool) (practice.Plan, error) {
	all, err := k.store.All()
	if err != nil {
		return practice.Plan{}, BadInput(err)
	}
	l := learners.Named(all, name)
	if l == nil && mayBegin {
		return practice.Plan{Seed: 1, Forms: forms}, nil
	}
	if l == nil {
		var names []string
		for _, one := range all {
			names = append(names, one.Name)
		}
		return practice.Plan{}, BadInput(fmt.Errorf("nobody called %q has practised beside this book yet%s; practise on its pages first (lastroom serve), or keep answers with --keep", name, nearest.Hint(name, names)))
	}
	return learners.NextPlan(all, l, forms), nil
}

// Keep notes each learner's answers as a round.
func (k *Learners) Keep(plan practice.Plan, s *practice.Set, said []practice.Said) error {
	for _, one := range said {
		if bad := learners.GoodName(one.Learner); bad != "" {
			return errors.New("to keep answers each needs a name: give the file a column learner, or --learner")
		}
	}
	for _, one := range said {
		l, err := k.store.Enter(one.Learner)
		if err != nil {
			return err
		}
		no, err := k.store.BeginRound(l.Word, plan)
		if err != nil {
			return err
		}
		for _, a := range one.Answers {
			seen, err := s.See(a)
			if err == nil {
				err = k.store.Answer(l.Word, no, seen)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}
