// Package sessions keeps measuring sessions beside the book: who tapes whom, what
// was written so far, whether all may see it, and whether the book has it.
//
// Nobody's numbers are given out before a session is closed, not even their own:
// who sees a number measures it again.
package sessions

import (
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"

	"lastroom/analysis/session"
	"lastroom/notebooks/journal"
)

// folderName is the folder of sessions beside the book.
const folderName = "sessions"

// A Session is one of them.
type Session struct {
	Word    string
	Plan    session.Plan
	Doors   []string // a word for each of Plan.People, in addresses of their pages
	Began   time.Time
	Entries []session.Entry // of each turn the last; read them once it is closed
	Closed  bool
	Saved   bool // in the book
}

// Person is who has a door, or -1.
func (s *Session) Person(door string) int { return slices.Index(s.Doors, door) }

// Done is how many turns are written, of how many.
func (s *Session) Done() (done, all int) { return len(s.Entries), len(s.Plan.Turns()) }

// DoneBy is how many turns a person has written, of how many.
func (s *Session) DoneBy(person int) (done, all int) {
	for _, e := range s.Entries {
		if e.Person == person {
			done++
		}
	}
	return done, len(s.Plan.TurnsOf(person))
}

type line struct {
	At    time.Time      `json:"at"`
	Plan  *session.Plan  `json:"plan,omitempty"`
	Doors []string       `json:"doors,omitempty"`
	Entry *session.Entry `json:"entry,omitempty"`
	Did   string         `json:"did,omitempty"`
}

const (
	closed = "closed"
	saved  = "saved"
)

// A Store keeps sessions beside the book.
type Store struct {
	folder journal.Folder
	now    func() time.Time
}

// NewStore keeps sessions in a folder of the root.
func NewStore(root *os.Root, now func() time.Time) *Store {
	return &Store{folder: journal.Folder{Root: root, Name: folderName}, now: now}
}

// ErrClosed is the error of a session that takes no more numbers.
var ErrClosed = errors.New("the session is closed: all have been shown its numbers")

// Begin begins a session whose plan was checked.
func (s *Store) Begin(p session.Plan) (word string, err error) {
	var doors []string
	for range p.People() {
		doors = append(doors, rand.Text())
	}
	return s.folder.Begin(line{At: s.now().UTC(), Plan: &p, Doors: doors})
}

// Find reads a session.
func (s *Store) Find(word string) (*Session, error) {
	out := &Session{Word: word}
	err := journal.Lines(&s.folder, word, func(one line) error {
		switch {
		case one.Plan != nil:
			if err := one.Plan.Check(); err != nil || len(one.Doors) != len(one.Plan.People()) {
				return fmt.Errorf("no plan of a session: %w", err)
			}
			out.Plan, out.Doors, out.Began = *one.Plan, one.Doors, one.At
		case one.Entry != nil:
			e := *one.Entry
			if e.Person < 0 || e.Person >= len(out.Doors) || e.Subject < 0 || e.Subject >= len(out.Plan.Subjects) ||
				slices.ContainsFunc(e.Readings, func(r session.Reading) bool { return r.Spot < 0 || r.Spot >= len(out.Plan.Spots) }) {
				return errors.New("an entry that is not in the plan")
			}
			if had := session.Of(out.Entries, session.Turn{Person: e.Person, Subject: e.Subject, Trial: e.Trial}); had != nil {
				*had = e
			} else {
				out.Entries = append(out.Entries, e)
			}
		default:
			out.Closed, out.Saved = out.Closed || one.Did == closed, out.Saved || one.Did == saved
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if out.Doors == nil { // cut short when it began
		return nil, journal.ErrNone
	}
	return out, nil
}

// All are the sessions there are, the newest first.
func (s *Store) All() (out []*Session, err error) {
	out, err = journal.All(&s.folder, s.Find)
	slices.SortFunc(out, func(a, b *Session) int { return b.Began.Compare(a.Began) })
	return out, err
}

// Write notes what was written at a turn; written again, the last counts.
func (s *Store) Write(word string, e session.Entry) error {
	return s.folder.Add(word, line{At: s.now().UTC(), Entry: &e}, s.open(word))
}

// Close ends the writing: from then on all may see all.
func (s *Store) Close(word string) error {
	return s.folder.Add(word, line{At: s.now().UTC(), Did: closed}, s.open(word))
}

func (s *Store) open(word string) func() error {
	return func() error {
		one, err := s.Find(word)
		if err == nil && one.Closed {
			err = ErrClosed
		}
		return err
	}
}

// Saved notes that the book has the session.
func (s *Store) Saved(word string) error {
	return s.folder.Add(word, line{At: s.now().UTC(), Did: saved}, func() error { return nil })
}

// Remove takes a session away. What the book has of it stays.
func (s *Store) Remove(word string) error { return s.folder.Remove(word) }
