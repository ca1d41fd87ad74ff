// Package session plans a measuring session, in which several people tape the same
// legs blind, and puts what they wrote together.
//
//  1. A [Plan] says who tapes whose legs at which spots, how often; its Turns are
//     drawn by lot from Williams' squares, so that who was taped just before is
//     balanced.
//  2. An [Entry] is what one person wrote at one turn. [Plan.Repeats] makes the numbers
//     of a session of them (package repeatability has the statistics), [Plan.Rows] the rows of
//     the repeats sheet.
//  3. [Plan.Deviations] are all numbers as differences from the instructor's.
package session

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"lastroom/analysis/form"
)

// A Spot is where the tape lies; HeightMM is 0 where the point has none.
type Spot struct {
	Point    form.Point  `json:"point"`
	HeightMM form.Height `json:"height_mm"`
}

// Name is the spot in words.
func (s Spot) Name() string {
	switch {
	case s.Point == form.Leg:
		return "Leg at " + s.HeightMM.String()
	case s.Point.Girth():
		return form.Capitalised(s.Point.String()) + " girth"
	}
	return "Foot " + s.Point.String()
}

// A Plan is a session before anything is measured.
type Plan struct {
	ID         string    `json:"session"` // session_id of the sheet
	Day        string    `json:"day"`     // measured_on, ISO 8601
	Seed       uint64    `json:"seed"`
	Instructor string    `json:"instructor"`
	Measurers  []string  `json:"measurers"` // those who learn, the instructor apart
	Subjects   []string  `json:"subjects"`  // whose legs: customer ids, or letters
	Trials     int       `json:"trials"`
	Spots      []Spot    `json:"spots"`
	Unit       form.Unit `json:"unit"`
}

// Bounds of a session.
const (
	mostPeople = 16 // who measure, and whose legs are measured
	mostTrials = 4
	mostSpots  = 20
)

// Check says what is wrong with a plan, in words for who made it.
func (p *Plan) Check() error {
	switch {
	case badName(p.ID):
		return errors.New("give the session a short name")
	case badName(p.Instructor):
		return errors.New("say who the instructor is: the others are compared with the instructor's numbers")
	case len(p.Measurers) < 1 || len(p.Measurers) >= mostPeople:
		return fmt.Errorf("name 1 to %d people who measure, one a line", mostPeople-1)
	case len(p.Subjects) < 1 || len(p.Subjects) > mostPeople:
		return fmt.Errorf("name 1 to %d people whose legs are measured, one a line", mostPeople)
	case p.Trials < 1 || p.Trials > mostTrials:
		return fmt.Errorf("each leg is measured 1 to %d times by each", mostTrials)
	case len(p.Spots) < 1 || len(p.Spots) > mostSpots:
		return fmt.Errorf("choose 1 to %d places for the tape", mostSpots)
	case p.Unit == form.NoUnit:
		return errors.New("choose the unit that is written")
	}
	if again := repeated(append([]string{p.Instructor}, p.Measurers...)); again != "" {
		return fmt.Errorf("“%s” measures twice in the list; each is named once, the instructor apart", again)
	}
	if again := repeated(p.Subjects); again != "" {
		return fmt.Errorf("the legs of “%s” are in the list twice", again)
	}
	if slices.ContainsFunc(slices.Concat(p.Measurers, p.Subjects), badName) {
		return errors.New("a name has 1 to 60 letters")
	}
	return nil
}

func badName(s string) bool {
	return strings.TrimSpace(s) != s || s == "" || utf8.RuneCountInString(s) > 60 || strings.ContainsFunc(s, unicode.IsControl)
}

func repeated(names []string) string {
	seen := map[string]bool{}
	for _, n := range names {
		if seen[strings.ToLower(n)] {
			return n
		}
		seen[strings.ToLower(n)] = true
	}
	return ""
}

// People are all who measure, the instructor first.
func (p *Plan) People() []string { return append([]string{p.Instructor}, p.Measurers...) }

// A Turn is who tapes whose legs when. Several turns of one period go on at once.
type Turn struct {
	Period  int // from 1
	Person  int // into People
	Subject int // into Subjects
	Trial   int // from 1
}

// Turns are all of them, by period and person. In each trial everybody tapes
// everybody's legs once, and no two are at the same person at a time; where there
// are more who measure than legs, some rest.
//
// The order is a Williams square (Williams EJ 1949, Australian Journal of Scientific
// Research A 2:149-168): of an even number, in one square each is taped just after
// each other one equally often; of an odd number, in a square and its mirror image,
// which the next trial takes. With fewer measurers than legs the rows are drawn by lot,
// and the balance holds on average. Nobody tapes the same legs twice in a row
// where that can be avoided.
func (p *Plan) Turns() (out []Turn) {
	r := rand.New(rand.NewPCG(p.Seed, 4))
	people := len(p.Measurers) + 1
	n := max(people, len(p.Subjects))
	last := make([]int, people) // the last subject of each
	for i := range last {
		last[i] = -1
	}
	var labels []int
	for trial := 1; trial <= p.Trials; trial++ {
		mirrored := n%2 == 1 && trial%2 == 0
		square := williams(n, mirrored)
		var rows []int
		for range 200 { // draws until nobody begins where they ended
			rows = r.Perm(n)[:people]
			if !mirrored { // the mirror image balances the square of the same legs alone
				labels = r.Perm(n)
			}
			if !again(square, rows, labels, last, len(p.Subjects)) {
				break
			}
		}
		for at := range n {
			for who, row := range rows {
				if s := labels[square[row][at]]; s < len(p.Subjects) {
					out = append(out, Turn{Period: (trial-1)*n + at + 1, Person: who, Subject: s, Trial: trial})
					last[who] = s
				}
			}
		}
	}
	return out
}

// again reports whether somebody's first leg would be the one that they taped last.
func again(square [][]int, rows, labels, last []int, subjects int) bool {
	for who, row := range rows {
		for _, k := range square[row] {
			if s := labels[k]; s < subjects {
				if s == last[who] {
					return true
				}
				break
			}
		}
	}
	return false
}

// williams is the square of n: row i has 0, 1, n-1, 2, n-2, … each i more, modulo n.
func williams(n int, mirrored bool) [][]int {
	first := make([]int, n)
	low, high := 1, n-1
	for j := 1; j < n; j++ {
		if j%2 == 1 {
			first[j], low = low, low+1
		} else {
			first[j], high = high, high-1
		}
	}
	out := make([][]int, n)
	for i := range out {
		out[i] = make([]int, n)
		for j, v := range first {
			if mirrored {
				j = n - 1 - j
			}
			out[i][j] = (v + i) % n
		}
	}
	return out
}
