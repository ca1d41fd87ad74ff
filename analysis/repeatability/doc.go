// Package repeatability says how well a tape is read: from sessions in which
// several people measure the same legs, more than once, beside an instructor.
//
//  1. A [Repeat] is one number of a session. Readings of one leg (a side of a
//     subject in a session) at one [Spot] belong together.
//  2. [ByMeasurer] gives each measurer's technical error and, against the
//     instructor, bias and limits of agreement, spot by spot.
//  3. [Of] is the study of all of them: technical error, reliability and
//     intraclass correlation of each spot; by restricted maximum likelihood how much of the
//     spread is the legs', the measurers', a measurer's on a certain leg, the
//     trial's (analysis/components).
//  4. A [Habit] tells two faults apart that look alike in one number: who pulls the tape
//     tighter reads every girth short by as much; who tapes higher up reads
//     a leg long where it widens and short where it narrows.
//  5. Beside each figure stands what a boot needs ([Tolerance]) and how many legs a
//     verdict takes.
package repeatability

import (
	"cmp"
	"math"
	"slices"

	"lastroom/analysis/stats"
)

const level = stats.DefaultLevel

// A Repeat is one number of a training session: the same leg measured again.
type Repeat struct {
	Session, Subject, Measurer string
	Trial                      int
	Reference                  bool // the instructor's
	Side, Point                string
	HeightMM                   float64 // NaN for foot points
	ValueMM                    float64
}

// A Spot is where the tape lay; noHeight stands for points of the foot.
type Spot struct {
	Point  string
	Height float64
}

// noHeight is the height of a point that has none.
const noHeight = -1

func (s Spot) compare(t Spot) int {
	return cmp.Or(cmp.Compare(s.Point, t.Point), cmp.Compare(s.Height, t.Height))
}

// heightMM is the height in millimetres, NaN where the point has none.
func (s Spot) heightMM() stats.Value {
	if s.Height < 0 {
		return stats.Value(math.NaN())
	}
	return stats.Value(s.Height)
}

// A leg is one subject's leg in one session. Left and right count as two, so does
// the same leg in another session.
type leg struct{ session, subject, side string }

func (l leg) compare(m leg) int {
	return cmp.Or(cmp.Compare(l.session, m.session), cmp.Compare(l.subject, m.subject), cmp.Compare(l.side, m.side))
}

// readings are one person's, trial by trial.
type readings map[Spot]map[leg][]float64

// told are the readings of a study: each measurer's, and the instructors' together.
type told struct {
	by        map[string]readings
	reference readings
	numbers   int
}

// sorted leaves out what can't be read and puts the rest in the order of legs, spots,
// people and trials, so that no sum depends on the order in which rows came.
func sorted(repeats []Repeat) told {
	repeats = slices.DeleteFunc(slices.Clone(repeats), func(r Repeat) bool {
		return !(r.ValueMM > 0) || math.IsInf(r.ValueMM, 0) || r.Measurer == "" && !r.Reference
	})
	slices.SortFunc(repeats, func(a, b Repeat) int {
		return cmp.Or(cmp.Compare(a.Measurer, b.Measurer), cmp.Compare(a.Session, b.Session), cmp.Compare(a.Subject, b.Subject), cmp.Compare(a.Side, b.Side),
			spotOf(a).compare(spotOf(b)), cmp.Compare(a.Trial, b.Trial), cmp.Compare(a.ValueMM, b.ValueMM))
	})
	t := told{map[string]readings{}, readings{}, len(repeats)}
	for _, r := range repeats {
		to := t.reference
		if !r.Reference {
			if to = t.by[r.Measurer]; to == nil {
				to = readings{}
				t.by[r.Measurer] = to
			}
		}
		s, l := spotOf(r), leg{r.Session, r.Subject, r.Side}
		if to[s] == nil {
			to[s] = map[leg][]float64{}
		}
		to[s][l] = append(to[s][l], r.ValueMM)
	}
	return t
}

func spotOf(r Repeat) Spot {
	if math.IsNaN(r.HeightMM) {
		return Spot{r.Point, noHeight}
	}
	return Spot{r.Point, r.HeightMM}
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}
