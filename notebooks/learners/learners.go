// Package learners keeps who practised, what they said of which form, and what was
// true of it, in a file of its own for each beside the book.
//
// A learner's file is for learning alone: it holds a name, which may be that of a
// measurer of the book, and answers to invented forms. It goes whole when the
// learner is to be forgotten; backups made before still hold it.
package learners

import (
	"errors"
	"fmt"
	"hash/fnv"
	"os"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lastroom/analysis/practice"
	"lastroom/notebooks/journal"
)

// folderName is the folder of learners' files beside the book.
const folderName = "learners"

// A Learner is one person's practice.
type Learner struct {
	Word   string // of the file, and in addresses
	Name   string
	Began  time.Time
	Rounds []Round
}

// A Round is one set and what was said of it.
type Round struct {
	Plan  practice.Plan
	Began time.Time
	Seen  []practice.Seen
}

// Ended reports whether every form is answered.
func (r *Round) Ended() bool { return len(r.Seen) >= r.Plan.Forms }

// Next is the first form that is not answered yet, by its place in the set; -1 for
// none.
func (r *Round) Next(s *practice.Set) int {
	return slices.IndexFunc(s.Forms, func(f practice.Form) bool { return r.Of(f.ID) == nil })
}

// Of is what was said of a form, or nil.
func (r *Round) Of(form string) *practice.Seen {
	i := slices.IndexFunc(r.Seen, func(s practice.Seen) bool { return s.Form == form })
	if i < 0 {
		return nil
	}
	return &r.Seen[i]
}

// Answers are a learner's answers, round by round.
func (l *Learner) Answers() (out [][]practice.Seen) {
	for _, r := range l.Rounds {
		if len(r.Seen) > 0 {
			out = append(out, r.Seen)
		}
	}
	return out
}

// A line of a learner's file is one of the three.
type line struct {
	At      time.Time      `json:"at"`
	Learner string         `json:"learner,omitempty"`
	Plan    *practice.Plan `json:"plan,omitempty"`
	Answer  *answer        `json:"answer,omitempty"`
}

type answer struct {
	Round   int      `json:"round"` // from 1
	Form    string   `json:"form"`
	Verdict string   `json:"verdict"`
	Faults  []string `json:"faults,omitempty"`
	Planted []string `json:"planted,omitempty"`
	Right   string   `json:"right"`
}

// A Store keeps learners beside the book.
type Store struct {
	folder journal.Folder
	now    func() time.Time
}

// NewStore keeps learners in a folder of the root.
func NewStore(root *os.Root, now func() time.Time) *Store {
	return &Store{folder: journal.Folder{Root: root, Name: folderName}, now: now}
}

// ErrAnswered is the error of a form that was answered before: the first answer
// counts, since the truth was shown then.
var ErrAnswered = errors.New("that form was answered before; the first answer counts")

// GoodName says what is wrong with a learner's name, "" for nothing.
func GoodName(name string) string {
	switch {
	case strings.TrimSpace(name) == "":
		return "Say who practises: a name, or the measurer's id of the order sheets."
	case utf8.RuneCountInString(name) > 60 || strings.ContainsFunc(name, unicode.IsControl):
		return "A name has at most 60 letters."
	}
	return ""
}

// Find reads a learner's file.
func (s *Store) Find(word string) (*Learner, error) {
	l := &Learner{Word: word}
	err := journal.Lines(&s.folder, word, func(one line) error {
		switch {
		case one.Plan != nil:
			l.Rounds = append(l.Rounds, Round{Plan: *one.Plan, Began: one.At})
		case one.Answer != nil:
			a := one.Answer
			if a.Round < 1 || a.Round > len(l.Rounds) {
				return fmt.Errorf("an answer to round %d, which did not begin", a.Round)
			}
			r := &l.Rounds[a.Round-1]
			r.Seen = append(r.Seen, practice.Seen{Answer: practice.Answer{Learner: l.Name, Form: a.Form, Verdict: a.Verdict, Faults: a.Faults}, Planted: a.Planted, Right: a.Right})
		default:
			l.Name, l.Began = one.Learner, one.At
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return l, nil
}

// All are the learners there are, by name.
func (s *Store) All() (out []*Learner, err error) {
	out, err = journal.All(&s.folder, s.Find)
	slices.SortFunc(out, func(a, b *Learner) int {
		return strings.Compare(strings.ToLower(a.Name)+"\x00"+a.Word, strings.ToLower(b.Name)+"\x00"+b.Word)
	})
	return out, err
}

// Named is the learner of a name, large letters and small alike; nil where there
// is none.
func Named(all []*Learner, name string) *Learner {
	i := slices.IndexFunc(all, func(l *Learner) bool { return strings.EqualFold(l.Name, strings.TrimSpace(name)) })
	if i < 0 {
		return nil
	}
	return all[i]
}

// Enter gives the learner of a name, who begins if there is none.
func (s *Store) Enter(name string) (*Learner, error) {
	all, err := s.All()
	if err != nil {
		return nil, err
	}
	if l := Named(all, name); l != nil {
		return l, nil
	}
	name = strings.TrimSpace(name)
	word, err := s.folder.Begin(line{At: s.now().UTC(), Learner: name})
	if err != nil {
		return nil, err
	}
	return s.Find(word)
}

// BeginRound begins a round of the learner, and gives its number, from 1.
func (s *Store) BeginRound(word string, p practice.Plan) (no int, err error) {
	err = s.folder.Add(word, line{At: s.now().UTC(), Plan: &p}, func() error {
		l, err := s.Find(word)
		if err == nil {
			no = len(l.Rounds) + 1
		}
		return err
	})
	return no, err
}

// Answer notes what was said of a form of a round.
func (s *Store) Answer(word string, round int, a practice.Seen) error {
	kept := &answer{round, a.Form, a.Verdict, a.Faults, a.Planted, a.Right}
	return s.folder.Add(word, line{At: s.now().UTC(), Answer: kept}, func() error {
		l, err := s.Find(word)
		switch {
		case err != nil:
			return err
		case round < 1 || round > len(l.Rounds):
			return journal.ErrNone
		case l.Rounds[round-1].Of(a.Form) != nil:
			return ErrAnswered
		}
		return nil
	})
}

// Remove forgets a learner.
func (s *Store) Remove(word string) error { return s.folder.Remove(word) }

// Outlook is a learner's chance of finding each fault, of all that were planted for
// any of the learners, and the weights of a next set.
func Outlook(all []*Learner, word string) []practice.Chance {
	var rounds [][][]practice.Seen
	who := 0
	for i, l := range all {
		rounds = append(rounds, l.Answers())
		if l.Word == word {
			who = i
		}
	}
	return practice.Outlook(rounds, who)
}

// NextPlan is a learner's next set of n forms: another one each time, made of what
// the learner misses once there are answers.
func NextPlan(all []*Learner, l *Learner, n int) practice.Plan {
	h := fnv.New32a()
	fmt.Fprintf(h, "%s %d", l.Word, len(l.Rounds))
	p := practice.Plan{Seed: uint64(h.Sum32() % 1_000_000), Forms: n}
	if len(l.Answers()) > 0 {
		p.Weights = practice.Weights(Outlook(all, l.Word))
	}
	return p
}
